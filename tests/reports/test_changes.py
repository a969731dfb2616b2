"""Every version once, newest first, page by page, each beside the version before it."""

import re

import pytest
from django.urls import reverse

from patients import services
from patients.models import Patient
from reports.changes import KINDS, lines_of, versions_of
from tests.factories.attendance import ReadingFactory, VisitFactory
from tests.factories.patients import ConditionFactory, MedicineFactory, PatientFactory

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
