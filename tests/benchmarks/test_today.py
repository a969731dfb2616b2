"""Today with forty rows beside the least a signed-in page costs, measured in the same run.

The floor (``measuring``) has six queries and a table of thirty rows, through the same middleware
and base template. Times are medians of whole requests in this process.
"""

import statistics
import time

import pytest
from django.db import connection
from django.urls import reverse

from programs.attendance.models import Reading
from tests.benchmarks import measuring
from tests.benchmarks.measuring import FLOOR_URL, median_ms, n_queries
from tests.factories.attendance import ReadingFactory, VisitFactory
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory, PlannedSessionFactory
from tests.factories.patients import MedicineFactory
from tests.factories.prescription import PrescriptionFactory

pytestmark = pytest.mark.django_db
ROUNDS = 25


@pytest.fixture
def one_connection():
    with measuring.one_connection():
        yield


@pytest.fixture
def forty(people, site):
    slot = ClassSlotFactory(site=site, seats=40)
    for _ in range(40):
        course = EnrolmentFactory(patient__site=site)
        planned = PlannedSessionFactory(enrolment=course, slot=slot)
        visit = VisitFactory(enrolment=course, meeting=planned.slot.meetings.get())
        ReadingFactory(visit=visit)
        MedicineFactory(patient=course.patient, drug_class="beta_blocker")
        PrescriptionFactory(enrolment=course)
    return Reading.objects.filter(visit=visit)


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("one_connection")
@pytest.mark.urls("tests.benchmarks.measuring")
def test_today_with_forty_rows_beside_the_floor(client, people, forty):
    client.force_login(people["floor"])
    today, again = reverse("attendance:today"), reverse("attendance:rows")
    # Other work on the machine only ever adds: the best of three runs is the truest.
    runs = [median_ms(client, FLOOR_URL, today, again) for _ in range(3)]
    floor, page, refresh = map(min, zip(*runs, strict=True))
    rates = iter(range(60, 90))
    anew = min(
        median_ms(client, today, rounds=1, before=lambda: forty.update(heart_rate_bpm=next(rates)))
        for _ in range(9)
    )[0]
    print(
        f"floor {floor:.1f} ms with {n_queries(client, FLOOR_URL)} queries, Today with 40 rows "
        f"{page:.1f} ms with {n_queries(client, today)} queries, {page / floor:.1f} times, asked "
        f"again {refresh:.1f} ms; after something was stored {anew:.1f} ms, "
        f"{anew / floor:.1f} times"
    )
    assert n_queries(client, FLOOR_URL) == 6
    wire = measuring.first_view_bytes(measuring.answer(client, today))
    # 150 kB: the page 111, the style sheet and scripts 39; how late people came adds up to two.
    assert 60_000 < wire < 153_000
    # 1.2 to 1.5 times while nothing is stored; once after something was, 2.3 on SQLite and 2.5 to
    # 4 on PostgreSQL, which reads what changed. A quarter more is for a machine that is shared.
    assert page <= floor * (1.5 if connection.vendor == "sqlite" else 2) * 1.25
    assert refresh <= anew / 2
    assert anew <= floor * (3.2 if connection.vendor == "sqlite" else 5)


@pytest.mark.usefixtures("one_connection")
def test_findings_as_typed_come_within_200_ms(client, people, site):
    course = EnrolmentFactory(patient__site=site)
    planned = PlannedSessionFactory(enrolment=course)
    visit = VisitFactory(enrolment=course, meeting=planned.slot.meetings.get(), state="exercising")
    ReadingFactory(visit=visit)
    PrescriptionFactory(enrolment=course)
    client.force_login(people["floor"])
    url = reverse("attendance:live", args=[visit.pk])
    typed = {"before_heart_rate_bpm": "70", "before_pressure": "186/92", "shows": "all"}
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        page = client.post(url, typed)
        times.append((time.perf_counter() - start) * 1000)
    assert "E-01" in page.content.decode()
    print(f"findings as typed {statistics.median(times):.0f} ms")
    assert statistics.median(times) < 200
