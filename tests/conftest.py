"""Fixtures for every test. Nothing of Django is imported here: tests/calc runs without it."""

import os

import pytest

# Playwright runs an event loop in the test's thread; Django would refuse the database there.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
ROLES = ["floor", "clinician", "physician", "manager", "administrator"]


@pytest.fixture
def site(db):
    from tests.factories.staff import SiteFactory

    return SiteFactory()


@pytest.fixture
def people(site):
    """One user of each role at the site."""
    from tests.factories.staff import UserFactory

    return {role: UserFactory(role=role, sites=[site]) for role in ROLES}


@pytest.fixture
def clinician(people):
    return people["clinician"]


@pytest.fixture
def nurse(people):
    return people["floor"]


@pytest.fixture
def physician(people):
    return people["physician"]


@pytest.fixture
def course(site):
    """An open enrolment that began two weeks ago, at the site."""
    from tests.factories.enrolment import EnrolmentFactory

    return EnrolmentFactory(patient__site=site)


@pytest.fixture
def planned(course):
    """Today's planned session of the course."""
    from tests.factories.enrolment import PlannedSessionFactory

    return PlannedSessionFactory(enrolment=course)
