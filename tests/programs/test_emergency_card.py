"""A person's emergency card: what is asked for first, and what nobody wrote down."""

from datetime import date

import pytest
from django.urls import reverse

from patients.models import AuditEvent
from tests.factories.enrolment import (
    RiskStratificationFactory,
)
from tests.factories.patients import (
    AllergyFactory,
    ConditionFactory,
    DeviceFactory,
    MedicineFactory,
    PatientFactory,
)
from tests.factories.prescription import PrescriptionFactory
from tests.test_pages import MOST_QUERIES, queries

pytestmark = pytest.mark.django_db


def looked_at(page):
    return set(AuditEvent.objects.filter(kind="look", what=page).values_list("patient", flat=True))


def entry(page, name):
    """What stands behind one word of the card."""
    start = page.index(f"<dt>{name}</dt>")
    return page[start : page.index("</dd>", start)]


def test_card_holds_what_is_asked_for_first(reader, course):
    patient = course.patient
    patient.emergency_name, patient.emergency_phone = "Fenella Marsh", "555-4053"
    patient.save()
    patient.site.emergency_card = "Call 555-0109."
    patient.site.save()
    DeviceFactory(patient=patient, detection_bpm=150, detection_read_on=date(2026, 1, 5))
    AllergyFactory(patient=patient, reaction="hives")
    MedicineFactory(patient=patient)
    ConditionFactory(patient=patient)
    PrescriptionFactory(
        enrolment=course, low_bpm=96, high_bpm=106, upper_limit_bpm=140, upper_limit_reason="ICD"
    )
    page = reader("emergency-card", patient.pk)
    for name, words in {
        "Emergency contact": "Fenella Marsh, 555-4053",
        "Allergies": "latex: hives",
        "Devices": "detects from 150 /min, read 5 Jan 2026",
        "Conditions": "stent or angioplasty, 10 Jan 2026",
        "Medicines": "metoprolol (beta-blocker)",
        "Target": "96–106 /min, RPE 12–13; upper limit 140 /min (ICD)",
        "In an emergency": "Call 555-0109.",
    }.items():
        assert words in entry(page, name), name
    assert f"{patient.born_on:%-d %b %Y}" in page
    assert patient.record_number in page
    assert looked_at("emergency card") == {patient.pk}


def test_card_never_says_none_where_nobody_wrote_it_down(reader, site):
    patient = PatientFactory(site=site, record_number="")
    page = reader("emergency-card", patient.pk)
    assert "Not recorded" in entry(page, "Allergies")
    assert "phone not recorded" in entry(page, "Emergency contact")
    for name in ("Devices", "Conditions", "Medicines"):
        assert "None recorded" in entry(page, name), name
    assert "No open course" in entry(page, "Target")
    assert "No emergency card is written for this site" in entry(page, "In an emergency")
    patient.has_no_allergies = True
    patient.save()
    assert "Asked: none known" in entry(reader("emergency-card", patient.pk), "Allergies")


def test_card_tells_what_other_places_of_the_record_tell(reader, course):
    patient, today = course.patient, course.patient.site.today()
    MedicineFactory(patient=patient, name="insulin lispro", drug_class="insulin")
    RiskStratificationFactory(patient=patient, answers={"icd": True, "heart_failure": True})
    page = reader("emergency-card", patient.pk)
    assert "(told by risk class), detection rate not recorded" in entry(page, "Devices")
    assert "heart failure (told by risk class)" in entry(page, "Conditions")
    assert "diabetes (told by insulin lispro)" in entry(page, "Conditions")
    DeviceFactory(patient=patient)
    assert entry(reader("emergency-card", patient.pk), "Devices").count("ICD") == 1
    patient.medicines.update(stopped_on=today)
    assert "None recorded" in entry(reader("emergency-card", patient.pk), "Medicines")


def test_refuted_allergy_and_removed_device_are_off_the_card(reader, course):
    patient, today = course.patient, course.patient.site.today()
    AllergyFactory(patient=patient, refuted_on=today)
    DeviceFactory(patient=patient, removed_on=today)
    page = reader("emergency-card", patient.pk)
    assert "latex" not in page
    assert "defibrillator" not in entry(page, "Devices")


def test_card_costs_the_same_for_few_rows_and_for_many(client, people, course):
    client.force_login(people["floor"])
    url = reverse("attendance:emergency-card", args=[course.patient_id])

    def fill(n):
        for _ in range(n):
            MedicineFactory(patient=course.patient)
            DeviceFactory(patient=course.patient)
            AllergyFactory(patient=course.patient)
            ConditionFactory(patient=course.patient)

    fill(1)
    few = queries(client, url)
    fill(8)
    assert queries(client, url) == few
    assert few < MOST_QUERIES
