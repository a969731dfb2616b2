"""Every version once, newest first, page by page, each beside the version before it."""

import re
from datetime import UTC, date, datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from patients import services
from patients.models import Patient
from reports.changes import KINDS, lines_of, versions_of
from tests.factories.attendance import ReadingFactory, VisitFactory
from tests.factories.patients import ConditionFactory, MedicineFactory, PatientFactory
from tests.factories.prescription import PrescriptionFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def busy(course, clinician):
    """Somebody with more versions than a page holds, and a neighbour with some."""
    patient = course.patient
    for n in range(50):
        patient = Patient.objects.get(pk=patient.pk)
        patient.phone = f"555-{n:04}"
        services.change_person(patient, seen=patient.version, by=clinician)
    ReadingFactory(visit=VisitFactory(enrolment=course))
    MedicineFactory(patient=patient)
    ConditionFactory(patient=patient)
    MedicineFactory(patient=PatientFactory(site=patient.site), name="neighbour")
    return patient


def stored(patient):
    """The versions, counted table by table."""
    return sum(
        model.history.filter(id__in=model.objects.filter(**{path: patient.pk}).values("pk")).count()
        for model, path in KINDS
    )


def test_every_version_is_there_once_newest_first(busy):
    versions = versions_of(busy)
    assert len(versions) == len(set(versions)) == stored(busy) > 54
    moments = [line.at for line in lines_of(versions)]
    assert moments == sorted(moments, reverse=True)


def test_a_version_stands_beside_the_one_before_it_even_across_pages(busy):
    whole = lines_of(versions_of(busy))
    by_pages = [line for n in range(len(whole)) for line in lines_of(versions_of(busy)[n : n + 1])]
    assert by_pages == whole
    phones = [f for line in whole for f in line.fields if f.name == "phone" and not line.is_new]
    assert [(f.before, f.after) for f in phones[:2]] == [
        ("555-0048", "555-0049"),
        ("555-0047", "555-0048"),
    ]


def test_the_page_leads_to_every_version(client, clinician, busy):
    client.force_login(clinician)
    n, address = 0, ""
    while True:
        page = client.get(reverse("reports:changes", args=[busy.pk]) + address).content.decode()
        assert "neighbour" not in page
        n += page.count('<td class="nb">')
        found = re.search(r'href="([^"]+)" rel="next"', page)
        if not found:
            break
        address = found[1]
    assert n == stored(busy)


def test_values_are_told_in_words_by_the_clock_on_the_wall(course, site):
    """A choice by its label, a day and an hour as on every other page."""
    site.time_zone = "America/New_York"
    noon = datetime(2026, 11, 26, 17, 5, tzinfo=UTC)  # 12:05 in Boston
    with timezone.override(site.time_zone):
        visit = VisitFactory(enrolment=course, state="arrived", arrived_at=noon, has_ecg=True)
        patient = PatientFactory(site=site, born_on=date(1958, 2, 3))
        said = {
            (line.what, change.name): change.after
            for one in (course.patient, patient)
            for line in lines_of(versions_of(one))
            for change in line.fields
        }
    assert visit.arrived_at == noon
    assert said["visit", "state"] == "checked in"
    assert said["visit", "arrived at"] == "26 Nov 2026, 12:05"
    assert said["visit", "continuous ECG monitoring"] == "yes"
    assert said["patient", "date of birth"] == "3 Feb 1958"


def test_what_is_kept_as_a_structure_is_told_in_words(course):
    lifts = [{"exercise": "Leg press", "repetitions": 12, "load_kg": 40.0}]
    PrescriptionFactory(enrolment=course, strength="light", lifts=lifts)
    said = {
        (line.what, change.name): change.after
        for line in lines_of(versions_of(course.patient))
        for change in line.fields
    }
    assert said["prescription", "exercises"] == "exercise Leg press, load kg 40, repetitions 12"
    assert not [words for words in said.values() if "{" in words or "[" in words]
