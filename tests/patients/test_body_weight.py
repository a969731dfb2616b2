"""Body weight is one dated fact of the person, whoever took it where."""

from datetime import timedelta

import pytest

from assessments import services as assessing
from assessments.models import Measurement
from patients.models import BodyWeight
from patients.services import weigh
from tests.factories.assessments import AssessmentFactory
from tests.factories.attendance import ReadingFactory, VisitFactory
from tests.factories.patients import BodyWeightFactory, PatientFactory
from tests.factories.staff import UserFactory

pytestmark = pytest.mark.django_db


def latest(patient):
    return BodyWeight.objects.latest_kg(patient.pk)


def test_nobody_weighed_has_no_weight():
    assert latest(PatientFactory()) is None


def test_the_weight_taken_last_holds_wherever_it_was_taken():
    visit = VisitFactory()
    patient, day = visit.enrolment.patient, visit.on
    ReadingFactory(visit=visit, weight_kg=84.0)
    BodyWeightFactory(patient=patient, on=day, kg=90.0)  # assessed the same day, hour unknown
    assert latest(patient) == 84.0
    BodyWeightFactory(patient=patient, on=day + timedelta(days=1), kg=91.0)
    assert latest(patient) == 91.0


def test_a_weight_assessed_counts_for_the_sheet_of_a_later_day():
    visit = VisitFactory()
    patient = visit.enrolment.patient
    two_days_ago = visit.on - timedelta(days=2)
    BodyWeightFactory(patient=patient, on=two_days_ago, kg=78.0)
    assert BodyWeight.objects.before(patient.pk, visit.on) == [(two_days_ago, 78.0)]


def assess(kg, *, assessment, on=None):
    row = type(assessment).objects.get(pk=assessment.pk)
    entries = {"body_mass_index": {"weight_kg": kg, "height_cm": 170.0}}
    day = on or row.enrolment.patient.site.today()
    assessing.record(row, day, entries, seen=row.version, key=None, by=UserFactory())


def test_an_assessed_weight_follows_its_correction_and_its_day():
    assessment = AssessmentFactory(performed_on=None)
    patient = assessment.enrolment.patient
    assess(80.0, assessment=assessment)
    assess(81.5, assessment=assessment)
    assert [w.kg for w in patient.weights.standing()] == [81.5]
    earlier = patient.site.today() - timedelta(days=3)
    assess(81.5, assessment=assessment, on=earlier)
    assert patient.weights.get().on == earlier
    assert [v.kg for v in patient.weights.get().history.order_by("history_id")] == [80, 81.5, 81.5]


def test_a_result_in_error_takes_its_weight_along_and_keeps_it_on_record():
    assessment = AssessmentFactory(performed_on=None)
    patient = assessment.enrolment.patient
    assess(80.0, assessment=assessment)
    row = Measurement.objects.get(key="body_mass_index")
    assessing.mark_in_error(row, "another person's", by=UserFactory())
    assert latest(patient) is None
    assert patient.weights.get().is_withdrawn


def test_an_emptied_weight_is_withdrawn_and_one_typed_again_stands():
    row = BodyWeightFactory()
    by = UserFactory()
    weigh(row.patient_id, None, row.on, known=row, reason="wrong person", by=by)
    assert latest(row.patient) is None
    weigh(row.patient_id, 79.0, row.on, known=row, by=by)
    assert latest(row.patient) == 79.0


def test_nothing_weighed_stores_nothing():
    patient = PatientFactory()
    assert weigh(patient.pk, None, patient.site.today(), by=UserFactory()) is None
    assert not BodyWeight.objects.exists()
