import factory
from factory.django import DjangoModelFactory

from programs.staff.models import Site, User


class SiteFactory(DjangoModelFactory):
    class Meta:
        model = Site

    name = factory.Sequence(lambda n: f"Site {n}")
    code = factory.Sequence(lambda n: f"S{n}")
    timezone = "America/New_York"


class UserFactory(DjangoModelFactory):
    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    first_name = "Rosa"
    last_name = factory.Sequence(lambda n: f"Keeper{n}")
    role = "floor"
    password = "!"

    @factory.post_generation
    def sites(self, create, extracted, **kwargs):
        if create and extracted:
            self.sites.set(extracted)
