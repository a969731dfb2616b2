from datetime import timedelta

import factory
from factory.django import DjangoModelFactory

from programs.staff.calc.readiness import ITEMS
from programs.staff.models import Credential, Drill, OpeningCheck, Site, User


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


class CredentialFactory(DjangoModelFactory):
    class Meta:
        model = Credential

    user = factory.SubFactory(UserFactory)
    kind = "BLS"
    expires_on = factory.LazyFunction(lambda: SiteFactory.build().today() + timedelta(days=300))


class OpeningCheckFactory(DjangoModelFactory):
    class Meta:
        model = OpeningCheck

    site = factory.SubFactory(SiteFactory)
    on = factory.LazyAttribute(lambda c: c.site.today())
    answers = factory.LazyFunction(lambda: {key: True for key, _, _ in ITEMS})
    by = factory.SubFactory(UserFactory)


class DrillFactory(DjangoModelFactory):
    class Meta:
        model = Drill

    site = factory.SubFactory(SiteFactory)
    on = factory.LazyAttribute(lambda d: d.site.today())
    scenario = "Collapse on the treadmill"
    who = "floor staff"
