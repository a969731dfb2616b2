import inspect

import pytest
from factory.django import DjangoModelFactory

from tests.factories import assessments, attendance, enrolment, patients, prescription, staff

ROOMS = [staff, patients, enrolment, prescription, attendance, assessments]
FACTORIES = [
    factory
    for room in ROOMS
    for _, factory in inspect.getmembers(room, inspect.isclass)
    if issubclass(factory, DjangoModelFactory) and factory.__module__ == room.__name__
]


@pytest.mark.django_db
@pytest.mark.parametrize("factory", FACTORIES, ids=lambda f: f.__name__)
def test_factory_makes_a_valid_row(factory):
    factory().full_clean()
