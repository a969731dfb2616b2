"""The wrong row is refused by the database itself, past every form, on SQLite and PostgreSQL."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from patients.history import NeverDeleted
from patients.models import Patient
from programs.attendance.models import Visit
from programs.enrolment.models import Enrolment, Pause
from tests.factories.assessments import AssessmentFactory, ConcernFactory, MeasurementFactory
from tests.factories.attendance import BoutFactory, FindingFactory, ReadingFactory, VisitFactory
from tests.factories.enrolment import (
    ClassSlotFactory,
    EligibilityAnswerFactory,
    EnrolmentFactory,
    PlannedSessionFactory,
    ReferralFactory,
)
from tests.factories.patients import ConditionFactory, MedicineFactory, PatientFactory
from tests.factories.prescription import PrescriptionFactory, TreatmentPlanFactory
from tests.factories.staff import SiteFactory, UserFactory

pytestmark = pytest.mark.django_db
NOW = timezone.now()

WRONG = {
    "enrolment ends before it starts": lambda: EnrolmentFactory(
        planned_end_on=timezone.now().date() - timedelta(days=400)
    ),
    "closed without a reason": lambda: EnrolmentFactory(closed_on=NOW.date()),
    "a reason without closing": lambda: EnrolmentFactory(outcome="choice"),
    "73 sessions": lambda: EnrolmentFactory(sessions_planned=73),
    "no sessions": lambda: EnrolmentFactory(sessions_planned=0),
    "37 weeks": lambda: EnrolmentFactory(weeks=37),
    "referral closed without a reason": lambda: ReferralFactory(state="not_enrolling"),
    "referral open with a reason": lambda: ReferralFactory(why_not="declined"),
    "referral in no known state": lambda: ReferralFactory(state="lost"),
    "LVEF 90": lambda: ReferralFactory(lvef_percent=90),
    "NYHA V": lambda: ReferralFactory(nyha_class=5),
    "weight 20 kg": lambda: ReferralFactory(reported_weight_kg=20),
    "override without a reason": lambda: EligibilityAnswerFactory(rule_said="not_eligible"),
    "class on an eighth day": lambda: ClassSlotFactory(weekday=7),
    "class without seats": lambda: ClassSlotFactory(seats=0),
    "born in 1880": lambda: PatientFactory(born_on="1880-01-01"),
    "unknown sex word": lambda: PatientFactory(sex="x"),
    "unknown condition": lambda: ConditionFactory(kind="flu"),
    "medicine stops before it starts": lambda: MedicineFactory(
        started_on="2026-02-01", stopped_on="2026-01-01"
    ),
    "visit ends before it starts": lambda: VisitFactory(
        arrived_at=NOW, ended_at=NOW - timedelta(minutes=1)
    ),
    "counted without minutes": lambda: VisitFactory(state="stopped", counts_first=True),
    "held visit counted": lambda: VisitFactory(state="held", minutes=40, counts_first=True),
    "finished without minutes": lambda: VisitFactory(state="finished"),
    "absent without a reason": lambda: VisitFactory(state="absent"),
    "present with a reason for absence": lambda: VisitFactory(absence="ill"),
    "visit of 301 minutes": lambda: VisitFactory(minutes=301),
    "heart rate 19": lambda: ReadingFactory(heart_rate_bpm=19),
    "heart rate 251": lambda: ReadingFactory(heart_rate_bpm=251),
    "saturation 101": lambda: ReadingFactory(spo2_percent=101),
    "pressure upside down": lambda: ReadingFactory(systolic_mmhg=70, diastolic_mmhg=120),
    "half a pressure": lambda: ReadingFactory(diastolic_mmhg=None),
    "pressure 301": lambda: ReadingFactory(systolic_mmhg=301),
    "glucose 5": lambda: ReadingFactory(glucose_mgdl=5),
    "reading of no phase": lambda: ReadingFactory(phase="then"),
    "RPE 5": lambda: BoutFactory(rpe=5),
    "RPE 21": lambda: BoutFactory(rpe=21),
    "cycle of 601 W": lambda: BoutFactory(power_w=601),
    "grade of 31 per cent": lambda: BoutFactory(grade_percent=31),
    "bout of 181 minutes": lambda: BoutFactory(minutes=181),
    "decision without a reason": lambda: FindingFactory(
        decision="hold", by=UserFactory(), answered_at=NOW
    ),
    "decision by nobody": lambda: FindingFactory(decision="hold", reason="x", answered_at=NOW),
    "RPE the wrong way round": lambda: PrescriptionFactory(rpe_low=14, rpe_high=12),
    "reserve without a test": lambda: PrescriptionFactory(method="reserve"),
    "range above the upper limit": lambda: PrescriptionFactory(
        low_bpm=90, high_bpm=120, upper_limit_bpm=110
    ),
    "heart rates the wrong way round": lambda: PrescriptionFactory(low_bpm=110, high_bpm=90),
    "half a heart-rate range": lambda: PrescriptionFactory(low_bpm=90),
    "half a signature": lambda: PrescriptionFactory(signed_at=NOW),
    "plan signed by nobody": lambda: TreatmentPlanFactory(signed_on=NOW.date()),
    "performed by nobody": lambda: AssessmentFactory(by=None),
    "unknown kind of assessment": lambda: AssessmentFactory(kind="yearly"),
    "concern closed without words": lambda: ConcernFactory(closed_at=NOW, closed_by=UserFactory()),
    "idle for ever": lambda: SiteFactory(idle_minutes=0),
    "unknown role": lambda: UserFactory(role="king"),
}


@pytest.mark.parametrize("name", WRONG)
def test_database_refuses(name):
    with pytest.raises(IntegrityError), transaction.atomic():
        WRONG[name]()


def twice(make, **fields):
    make(**fields)
    with pytest.raises(IntegrityError), transaction.atomic():
        make(**fields)


def test_one_open_enrolment_a_patient():
    patient = PatientFactory()
    EnrolmentFactory(patient=patient)
    with pytest.raises(IntegrityError), transaction.atomic():
        EnrolmentFactory(patient=patient)
    Enrolment.objects.update(closed_on=NOW.date(), outcome="choice")
    EnrolmentFactory(patient=patient)


def test_one_visit_a_meeting():
    visit = VisitFactory()
    twice(VisitFactory, enrolment=EnrolmentFactory(), meeting=visit.meeting)


def test_at_most_two_counted_sessions_a_day():
    course = EnrolmentFactory()
    counted = {"enrolment": course, "state": "finished", "minutes": 60, "ended_at": NOW}
    counted["arrived_at"] = NOW - timedelta(hours=1)
    VisitFactory(counts_first=True, **counted)
    VisitFactory(counts_second=True, **counted)
    for flag in ["counts_first", "counts_second"]:
        with pytest.raises(IntegrityError), transaction.atomic():
            VisitFactory(**{flag: True}, **counted)


def test_one_of_each():
    course = EnrolmentFactory()
    twice(AssessmentFactory, enrolment=course)
    twice(TreatmentPlanFactory, enrolment=course)
    twice(PrescriptionFactory, enrolment=course)
    twice(MeasurementFactory, assessment=AssessmentFactory())
    twice(ConcernFactory, assessment=AssessmentFactory())
    planned = PlannedSessionFactory()
    twice(PlannedSessionFactory, enrolment=EnrolmentFactory(), slot=planned.slot, on=planned.on)
    site = SiteFactory()
    twice(PatientFactory, site=site, record_number="R1")
    twice(Pause.objects.create, enrolment=course, from_on=NOW.date(), reason="x")


def test_patients_without_a_record_number_do_not_clash():
    site = SiteFactory()
    PatientFactory(site=site, record_number="")
    PatientFactory(site=site, record_number="")


def test_clinical_rows_are_never_deleted():
    visit = VisitFactory()
    with pytest.raises(NeverDeleted):
        visit.delete()
    with pytest.raises(NeverDeleted):
        Visit.objects.all().delete()
    with pytest.raises(NeverDeleted):
        Patient.objects.all().delete()
