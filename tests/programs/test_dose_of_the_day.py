"""The floor goes by the dose in force on the day, and says what is odd about it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from programs.attendance.models import Bout, Visit
from programs.attendance.today.queries import day_of
from programs.attendance.visit.bouts import planned_bouts
from programs.prescription import services
from programs.prescription.models import DosePolicy, Prescription
from tests.factories.attendance import BoutFactory, VisitFactory
from tests.factories.patients import BodyWeightFactory, MedicineFactory
from tests.factories.prescription import PrescriptionFactory
from tests.missed import MONDAY

pytestmark = pytest.mark.django_db


def draft(course, **changes):
    given = {"enrolment": course, "method": "exertion", "valid_from": MONDAY, "rpe_low": 12,
             "rpe_high": 13, "minutes": 30, "target_mets": 3.5}  # fmt: skip
    return Prescription(**(given | changes))


def row_of(course, on=MONDAY):
    slot = course.planned.get(on=on).slot
    [row] = day_of(course.patient.site, on, slot.pk).rows
    return row


def test_today_goes_by_the_dose_of_the_day_and_marks_it(going, physician, clinician):
    site = going.patient.site
    assert row_of(going).dose is None
    BodyWeightFactory(patient=going.patient, on=MONDAY, kg=80)
    services.prescribe(draft(going, most_minutes=40), 80, by=physician)
    row = row_of(going)
    assert (row.dose.rpe, row.dose.work.name) == ("RPE 12–13", "treadmill")
    assert not any("dose" in words for words in row.warnings)
    services.prescribe(draft(going, minutes=40), 80, by=clinician)
    assert row_of(going).dose.minutes == 40
    assert not any("dose" in words for words in row_of(going).warnings)  # inside what is signed
    services.prescribe(draft(going, rpe_high=15), 80, by=clinician)
    row = row_of(going)
    assert "changed dose awaits signature" in row.warnings
    assert (row.dose.rpe, row.dose.minutes) == ("RPE 12–13", 40)
    DosePolicy(site=site, unsigned_goes_on=True, source="own protocol").save()
    services.prescribe(draft(going, rpe_high=15), 80, by=clinician)
    row = row_of(going)
    assert row.dose.rpe == "RPE 12–15"
    assert "dose not signed" in row.warnings
    assert "changed dose awaits signature" not in row.warnings
    MedicineFactory(patient=going.patient, name="Sotalol")
    BodyWeightFactory(patient=going.patient, on=MONDAY, kg=84)
    assert "review the dose: medicine new: Sotalol, weight +5 %" in row_of(going).warnings


def test_yesterday_keeps_its_dose(going):
    before = MONDAY - timedelta(days=3)
    PrescriptionFactory(enrolment=going, valid_from=going.starts_on, replaced_on=MONDAY, rpe_low=9)
    PrescriptionFactory(enrolment=going, valid_from=MONDAY, rpe_low=11)
    assert row_of(going, before).dose.rpe_low == 9
    assert row_of(going).dose.rpe_low == 11


def test_bouts_are_the_last_ones_until_a_newer_dose_says_otherwise(going, physician):
    BodyWeightFactory(patient=going.patient, on=MONDAY, kg=80)
    planned = going.planned.get(on=MONDAY)
    last = going.visits.order_by("-on").first()
    BoutFactory(visit=last, activity="treadmill", minutes=20, speed_kmh=4.0)
    visit = VisitFactory(enrolment=going, meeting__slot=planned.slot, meeting__on=MONDAY)
    typed = [{"kind": "cycle", "minutes": 20}, {"kind": "treadmill", "minutes": 10}]
    old = draft(going, valid_from=going.starts_on, loads=list(typed))
    services.prescribe(old, 80, by=physician)
    [bout] = planned_bouts(visit, last)
    assert (bout.activity, bout.speed_kmh) == ("treadmill", 4.0)
    services.prescribe(draft(going, loads=list(typed)), 80, by=physician)
    found = planned_bouts(Visit.objects.get(pk=visit.pk), last)  # as the next page reads it
    # 3.5 METs: 5.25 km/h level and 38.1 W at 80 kg (ACSM), down to what is settable
    assert [(one.activity, one.minutes, one.speed_kmh or one.power_w) for one in found] == [
        ("treadmill", 10, 5.2),
        ("cycle", 20, 35),
    ]
    assert replace(found[0], minutes=None).heart_rate_bpm is None
    assert Bout.objects.count() == 1  # a plan stores nothing
