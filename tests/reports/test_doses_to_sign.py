"""A dose that goes beyond what a physician signed stands on the physician's list at once."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from programs.prescription.models import Prescription
from programs.prescription.services import prescribe, sign_prescription
from reports.worklists import due_for
from tests.factories.enrolment import EnrolmentFactory
from tests.factories.prescription import PrescriptionFactory
from tests.factories.staff import SiteFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(course, people):
    dose = PrescriptionFactory(enrolment=course, valid_from=course.patient.site.today())
    sign_prescription(dose, by=people["physician"])
    return dose


def raised(signed, by):
    """A clinician writes five minutes more."""
    row = Prescription.objects.get(pk=signed.pk)
    row.pk, row.id, row.signed_by, row.signed_at = None, None, None, None
    row._state.adding = True
    row.minutes += 5
    return prescribe(row, None, by=by)


def doses(people, role="physician"):
    return due_for(people[role]).doses


def test_a_signed_dose_waits_for_nobody(signed, people):
    assert doses(people) == []


def test_a_changed_dose_is_listed_beside_what_was_signed(signed, people):
    new = raised(signed, people["clinician"])
    (line,) = doses(people)
    assert line.enrolment == signed.enrolment_id
    assert f"{new.minutes} min" in line.dose
    assert f"{signed.minutes} min" in line.signed
    assert line.by == str(people["clinician"])


def test_the_list_leads_to_the_dose_and_empties_when_it_is_signed(client, signed, people):
    new = raised(signed, people["clinician"])
    client.force_login(people["physician"])
    page = client.get(reverse("reports:due")).content.decode()
    assert "Doses to sign" in page
    assert reverse("prescription:prescribe", args=[signed.enrolment_id]) in page
    answer = client.post(reverse("prescription:sign-prescription", args=[new.pk]))
    assert answer.status_code == 302
    assert doses(people) == []


def test_a_first_dose_says_that_none_was_signed(client, course, people):
    PrescriptionFactory(enrolment=course)
    (line,) = doses(people)
    assert line.signed == ""
    client.force_login(people["physician"])
    assert "no dose was signed yet" in client.get(reverse("reports:due")).content.decode()


def test_only_who_signs_is_asked(signed, people):
    raised(signed, people["clinician"])
    assert doses(people, "clinician") == []


def test_courses_that_are_over_and_other_sites_are_left_out(signed, people):
    raised(signed, people["clinician"])
    PrescriptionFactory(enrolment=EnrolmentFactory(patient__site=SiteFactory()))
    type(signed.enrolment).objects.filter(pk=signed.enrolment_id).update(
        closed_on=signed.valid_from, outcome="completed"
    )
    assert doses(people) == []


def test_the_longest_unsigned_comes_first_with_the_same_queries(client, site, people):
    client.force_login(people["physician"])
    today = site.today()

    def queries():
        with CaptureQueriesContext(connection) as captured:
            client.get(reverse("reports:due"))
        return len(captured)

    for n in range(2):
        PrescriptionFactory(
            enrolment=EnrolmentFactory(patient__site=site), valid_from=today - timedelta(days=n)
        )
    few = queries()
    for n in range(6):
        PrescriptionFactory(
            enrolment=EnrolmentFactory(patient__site=site), valid_from=today - timedelta(days=3 + n)
        )
    assert queries() <= few
    days = [line.from_on for line in doses(people)]
    assert days == sorted(days)
    assert timezone.localdate() >= days[-1]
