"""Known: suggestions from what was entered, protocols, details, two people at once."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from patients import services
from patients.background import suggestions_for
from patients.models import Allergy, Device, Patient, Precaution, Procedure
from reports.worklists import due_for
from tests.factories.enrolment import EnrolmentFactory
from tests.factories.patients import (
    AllergyFactory,
    DeviceFactory,
    MedicineFactory,
    PatientFactory,
    PrecautionFactory,
    ProcedureFactory,
    ProtocolFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def patient(site):
    return PatientFactory(site=site)


def test_stopped_medicine_and_removed_device_suggest_nothing(patient, site):
    MedicineFactory(patient=patient, drug_class="insulin", stopped_on=site.today())
    DeviceFactory(patient=patient, removed_on=site.today())
    found = " ".join(s.words for s in suggestions_for(patient, site.today()))
    assert "glucose" not in found
    assert "detection" not in found


@pytest.mark.parametrize(("days", "asks"), [(120, True), (121, False)])
def test_old_operation_asks_for_no_limits(patient, site, days, asks):
    ProcedureFactory(patient=patient, performed_on=site.today() - timedelta(days=days))
    found = " ".join(s.words for s in suggestions_for(patient, site.today()))
    assert ("surgeon’s limits" in found) is asks


def test_operation_brings_the_sites_precaution_with_a_review_day(patient, site, clinician):
    ProtocolFactory(site=site, access="sternum", days=84)
    day = site.today() - timedelta(days=10)
    operation = Procedure(patient=patient, kind="cabg", performed_on=day, access="sternum")
    services.add_background(operation, by=clinician)
    row = patient.precautions.get()
    assert (row.kind, row.review_on, row.lifted_on) == ("sternum", day + timedelta(84), None)
    again = Procedure(patient=patient, kind="valve", performed_on=day, access="sternum")
    services.add_background(again, by=clinician)
    assert patient.precautions.count() == 1


def test_review_day_prompts_and_lifts_nothing(clinician, site):
    """H-24: a date prompts a review, it never lifts anything."""
    course = EnrolmentFactory(patient__site=site)
    row = PrecautionFactory(patient=course.patient, review_on=site.today())
    later = PrecautionFactory(patient=course.patient, review_on=site.today() + timedelta(days=1))
    assert due_for(clinician).precautions == [row]
    services.review_precaution(row, site.today() + timedelta(days=14), by=clinician)
    assert due_for(clinician).precautions == []
    assert Precaution.objects.filter(lifted_on=None).count() == 2
    services.lift_precaution(later, site.today(), by=clinician, reason="surgeon agreed")
    assert Precaution.objects.get(pk=later.pk).lifted_on == site.today()


def test_allergy_and_no_allergies_exclude_each_other(patient, clinician):
    patient.has_no_allergies = True
    services.change_person(patient, seen=patient.version, by=clinician)
    services.add_background(Allergy(patient=patient, substance="latex"), by=clinician)
    patient.refresh_from_db()
    assert not patient.has_no_allergies
    patient.has_no_allergies = True
    with pytest.raises(ValidationError, match="refute it first"):
        services.change_person(patient, seen=patient.version, by=clinician)


def test_background_never_shows_missing_as_none(client, clinician, patient):
    client.force_login(clinician)
    page = client.get(reverse("patients:background", args=[patient.pk])).content.decode()
    assert "Not asked yet. That is not the same as none." in page
    assert page.count("not asked") >= 4


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("operation", {"kind": "cabg", "performed_on": "2031-01-01", "access": "sternum"}),
        ("condition", {"kind": "mi", "happened_on": "2031-01-01"}),
        ("device", {"kind": "icd", "implanted_on": "2031-01-01"}),
    ],
)
def test_dates_in_the_future_are_refused(client, clinician, patient, kind, data):
    client.force_login(clinician)
    url = reverse("patients:add-background", args=[patient.pk, kind])
    page = client.post(url, {f"{kind}-{k}": v for k, v in data.items()})
    assert "lies in the future" in page.content.decode()


def test_detection_rate_needs_its_day(client, clinician, patient, site):
    device = DeviceFactory(patient=patient)
    client.force_login(clinician)
    url = reverse("patients:end-background", args=[patient.pk, "device", device.pk])
    client.post(url, {"bpm": "162", "read_on": ""})
    assert Device.objects.get().detection_bpm is None
    client.post(url, {"bpm": "162", "read_on": site.today().isoformat()})
    device.refresh_from_db()
    assert (device.detection_bpm, device.detection_read_on, device.removed_on) == (
        162,
        site.today(),
        None,
    )
    client.post(url)
    device.refresh_from_db()
    assert device.removed_on == site.today()


def test_floor_staff_cannot_lift_or_keep_a_precaution(client, nurse, patient, site):
    row = PrecautionFactory(patient=patient)
    client.force_login(nurse)
    url = reverse("patients:end-background", args=[patient.pk, "precaution", row.pk])
    client.post(url)
    client.post(url, {"review_on": (site.today() + timedelta(days=9)).isoformat()})
    row.refresh_from_db()
    assert (row.lifted_on, row.review_on) == (None, None)


def test_allergy_is_refuted_never_deleted(client, clinician, patient, site):
    row = AllergyFactory(patient=patient)
    client.force_login(clinician)
    client.post(reverse("patients:end-background", args=[patient.pk, "allergy", row.pk]))
    row.refresh_from_db()
    assert row.refuted_on == site.today()


def test_details_are_saved_and_a_stale_form_shows_both(client, clinician, patient):
    client.force_login(clinician)
    url = reverse("patients:details", args=[patient.pk])
    form = client.get(url).context["form"]
    data = {k: v for k, v in form.initial.items() if v is not None} | {
        "seen_version": patient.version,
        "born_on": "1960-05-04",
        "emergency_name": "Bo Venn",
        "tobacco": "former",
        "tobacco_quit_on": "2020-01-01",
    }
    assert client.post(url, data).status_code == 302
    patient.refresh_from_db()
    assert (patient.emergency_name, patient.tobacco) == ("Bo Venn", "former")
    stale = data | {"emergency_name": "Cy Venn", "submission_key": ""}
    page = client.post(url, stale).content.decode()
    assert "stored “Bo Venn”, here “Cy Venn”" in page
    assert Patient.objects.get(pk=patient.pk).emergency_name == "Bo Venn"


def test_details_ask_about_an_unusual_age_once(client, clinician, patient, site):
    client.force_login(clinician)
    url = reverse("patients:details", args=[patient.pk])
    form = client.get(url).context["form"]
    born = f"{site.today() - timedelta(days=3000)}"
    data = {k: v for k, v in form.initial.items() if v is not None} | {
        "seen_version": patient.version,
        "born_on": born,
    }
    page = client.post(url, data)
    assert ": 8 years old. Is that right?" in page.content.decode()
    assert client.post(url, data | {"age_confirmed": born}).status_code == 302


def test_quit_day_belongs_to_a_former_user(client, clinician, patient):
    client.force_login(clinician)
    url = reverse("patients:details", args=[patient.pk])
    initial = client.get(url).context["form"].initial
    data = {k: v for k, v in initial.items() if v is not None} | {
        "born_on": "1960-05-04",
        "seen_version": patient.version,
        "tobacco": "current",
        "tobacco_quit_on": "2020-01-01",
    }
    assert "belongs to a former user" in client.post(url, data).content.decode()


def test_old_operation_brings_no_precaution_and_a_second_one_moves_the_review(
    patient, site, clinician
):
    ProtocolFactory(site=site, access="sternum", days=84)
    today = site.today()

    def operated(days):
        row = Procedure(
            patient=patient,
            kind="cabg",
            performed_on=today - timedelta(days=days),
            access="sternum",
        )
        services.add_background(row, by=clinician)

    operated(5000)
    assert not patient.precautions.exists()
    operated(60)
    operated(10)
    assert patient.precautions.get().review_on == today + timedelta(days=74)


def test_precaution_lifted_before_a_new_operation_asks_again(patient, site):
    day = site.today() - timedelta(days=5)
    PrecautionFactory(patient=patient, lifted_on=day - timedelta(days=300))
    ProcedureFactory(patient=patient, performed_on=day)
    found = " ".join(s.words for s in suggestions_for(patient, site.today()))
    assert "surgeon’s limits" in found


def test_what_has_ended_keeps_its_first_day(patient, clinician, site):
    row = MedicineFactory(patient=patient, stopped_on=site.today() - timedelta(days=9))
    with pytest.raises(ValidationError, match="ended already"):
        services.stop_medicine(row, site.today(), by=clinician)
    lifted = PrecautionFactory(patient=patient, lifted_on=site.today())
    with pytest.raises(ValidationError, match="ended already"):
        services.review_precaution(lifted, site.today() + timedelta(days=9), by=clinician)
