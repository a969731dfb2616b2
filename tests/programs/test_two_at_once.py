"""Two people at the same moment, each on a database connection of their own."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from patients.models import AuditEvent
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.models import Visit
from programs.attendance.sheet.services import save_sheet
from programs.attendance.visit import services as floor
from programs.enrolment.courses import services as enrolments
from programs.enrolment.models import Enrolment
from programs.review.services import sign_plan
from tests.factories.enrolment import ClassSlotFactory, ReferralFactory
from tests.factories.prescription import TreatmentPlanFactory
from tests.factories.staff import UserFactory

pytestmark = pytest.mark.django_db(transaction=True)


def together(*jobs):
    """Run the jobs at once; each gives its result or the refusal."""

    def run(job):
        try:
            return job()
        except Exception as error:
            return error
        finally:
            connection.close()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return list(pool.map(run, jobs))


def test_last_seat_goes_to_one_and_the_other_is_told(site, clinician):
    slots = [ClassSlotFactory(site=site, weekday=day, seats=1) for day in (0, 2, 4)]
    waiting = [ReferralFactory(patient__site=site, confirmed=True) for _ in range(4)]
    start = site.today() + timedelta(days=1)
    results = together(
        *[lambda r=r: enrolments.enrol(r, slots, start, 36, by=clinician) for r in waiting]
    )
    assert Enrolment.objects.count() == 1
    refused = [r for r in results if isinstance(r, ValidationError)]
    assert len(refused) == 3
    assert all("full" in str(r) for r in refused)


def test_two_staff_checking_one_person_in_make_one_visit(planned, people):
    results = together(
        *[lambda u=u: floor.arrive(planned, by=u) for u in (people["floor"], people["clinician"])]
    )
    assert {type(r) for r in results} == {Visit}
    assert Visit.objects.count() == 1


def test_two_staff_saving_one_sheet_never_overwrite_each_other(planned, people):
    visit = floor.arrive(planned, by=people["floor"])
    results = together(
        *[
            lambda n=n: save_sheet(
                visit,
                Sheet(before=Vitals(heart_rate_bpm=n)),
                "save",
                seen=visit.version,
                key=None,
                by=people["floor"],
            )
            for n in (61, 62, 63)
        ]
    )
    stale = [r for r in results if type(r).__name__ == "StaleVersion"]
    assert len(stale) == 2
    assert visit.readings.count() == 1


def test_two_signers_at_once_make_one_signature_and_the_other_is_told(course, people):
    plan = TreatmentPlanFactory(enrolment=course)
    signers = [UserFactory(role="physician", sites=[course.patient.site]) for _ in range(2)]
    results = together(*[lambda u=u: sign_plan(plan, seen=1, seen_dose=0, by=u) for u in signers])
    (refused,) = [r for r in results if isinstance(r, ValidationError)]
    plan.refresh_from_db()
    assert plan.signed_by in signers
    assert f"by {plan.signed_by}" in str(refused)
    assert AuditEvent.objects.filter(kind="signature").count() == 1
