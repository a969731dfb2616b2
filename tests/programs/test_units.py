"""Units belong to the person, not to a sign-in or a device."""

import pytest
from django.test import Client
from django.urls import reverse

from patients.calc.measuring import LB, MMOL_L, Units
from programs.attendance.models import ClassMeeting
from programs.staff.units import units_of
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import PlannedSessionFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(course):
    planned = PlannedSessionFactory(enrolment=course)
    return VisitFactory(enrolment=course, meeting=ClassMeeting.objects.get(slot=planned.slot))


def test_unit_chosen_on_one_device_holds_on_the_next(client, nurse, visit):
    client.force_login(nurse)
    client.post(reverse("attendance:units", args=[visit.pk, "glucose"]))
    other = Client()
    other.force_login(nurse)
    page = other.get(reverse("attendance:sheet", args=[visit.pk])).content.decode()
    assert 'data-unit="mmol/L"' in page
    assert "Glucose in\n        mg/dL" in page


def test_units_are_the_sites_until_somebody_chooses(client, nurse, clinician, visit, site):
    site.shows_mmoll = True
    site.save()
    client.force_login(nurse)
    versions = nurse.history.count()
    client.post(reverse("attendance:units", args=[visit.pk, "weight"]))
    for user in (nurse, clinician):
        user.refresh_from_db()
    assert units_of(nurse, site) == Units(glucose=MMOL_L, weight=LB)
    assert units_of(clinician, site) == Units(glucose=MMOL_L)
    assert nurse.history.count() == versions  # a way of reading is no version of the person


def test_unknown_quantity_changes_nothing(client, nurse, visit, site):
    client.force_login(nurse)
    client.post(reverse("attendance:units", args=[visit.pk, "waist"]))
    nurse.refresh_from_db()
    assert units_of(nurse, site) == Units()
