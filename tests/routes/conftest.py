"""A site with one user of each role and a row of everything, stored once for a whole module."""

import pytest
from django.db import transaction

from tests.conftest import ROLES


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker):
    """A site with one user of each role and a row of everything, stored once a module.

    What a test writes goes with the test.
    """
    from tests.factories.staff import SiteFactory, UserFactory
    from tests.house import rows_at

    with django_db_blocker.unblock(), transaction.atomic():
        site = SiteFactory()
        users = {role: UserFactory(role=role, sites=[site]).pk for role in ROLES}
        yield site.pk, users, rows_at(site), rows_at(SiteFactory())
        transaction.set_rollback(True)


@pytest.fixture
def site(house, db):
    from programs.staff.models import Site

    return Site.objects.get(pk=house[0])


@pytest.fixture
def people(house, db):
    from programs.staff.models import User

    users = User.objects.in_bulk()
    return {role: users[pk] for role, pk in house[1].items()}


@pytest.fixture
def rows(house, db):
    """One row of everything at the site."""
    return house[2]
