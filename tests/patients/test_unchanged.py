"""What is kept while nothing is stored: never an older state, whoever writes, however it is asked.

SQLite: "PRAGMA data_version … will be different if changes were committed to the database by any
other connection in the interim" (sqlite.org, pragma). PostgreSQL, table of snapshot functions:
which transactions a snapshot takes as past.
"""

import random
import threading
from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.urls import reverse

from patients.unchanged import Kept, state
from programs.attendance.calc.stages import Stage
from programs.attendance.models import Bout, Finding, Interruption, Reading, Visit
from programs.attendance.today.queries import day_now, day_of, offer_last_time
from programs.prescription.models import Prescription
from tests.factories.attendance import BoutFactory, FindingFactory, ReadingFactory, VisitFactory
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory, PlannedSessionFactory
from tests.factories.patients import MedicineFactory, PrecautionFactory
from tests.factories.prescription import PrescriptionFactory
from tests.factories.staff import SiteFactory

pytestmark = pytest.mark.django_db(transaction=True)


def elsewhere(work):
    """Do something on a connection of its own, as another server process would."""
    failed = []

    def run():
        try:
            work()
        except Exception as error:
            failed.append(error)
        finally:
            connection.close()

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    assert not failed


def test_the_state_is_another_after_every_commit_and_the_same_without_one():
    before = state()
    assert before is not None
    assert state() == before
    site = SiteFactory()
    own = state()
    assert own != before
    assert state() == own
    elsewhere(lambda: type(site).objects.filter(pk=site.pk).update(name="Heron Quay"))
    others = state()
    assert others != own
    assert state() == others
    elsewhere(lambda: list(type(site).objects.all()))  # reading changes nothing
    assert state() == others
    with transaction.atomic():
        assert state() is None


def test_a_transaction_still_open_elsewhere_counts_from_its_commit():
    site = SiteFactory(name="Heron Quay")
    kept, asked = Kept(most=4), lambda: type(site).objects.get(pk=site.pk).name
    written, seen = threading.Event(), threading.Event()

    def slowly():
        with transaction.atomic():
            type(site).objects.filter(pk=site.pk).update(name="Alder Bank")
            written.set()
            seen.wait(10)

    thread = threading.Thread(target=lambda: (slowly(), connection.close()))
    thread.start()
    written.wait(10)
    assert [kept.of("name", asked) for _ in range(2)] == ["Heron Quay"] * 2
    seen.set()
    thread.join()
    assert kept.of("name", asked) == "Alder Bank"


def test_what_is_kept_is_worked_out_once_a_state_and_bounded():
    kept, n = Kept(most=2), []

    def work_out():
        n.append(1)
        return object()

    first = kept.of("a", work_out)
    assert kept.of("a", work_out) is first
    SiteFactory()
    assert kept.of("a", work_out) is not first
    assert len(n) == 2
    for name in "bcd":
        kept.of(name, work_out)
    assert len(kept._found) == 2
    with transaction.atomic():
        assert kept.of("d", work_out) is not kept.of("d", work_out)


@pytest.fixture
def planned():
    site = SiteFactory()
    slot = ClassSlotFactory(site=site, seats=4)
    courses = [EnrolmentFactory(patient__site=site) for _ in range(3)]
    found = [PlannedSessionFactory(enrolment=course, slot=slot) for course in courses]
    for course in courses[:2]:
        VisitFactory(enrolment=course, meeting=slot.meetings.get(), state="exercising")
    return found


def writes(planned, rng):
    """One random write to what a class shows."""
    visit = rng.choice(list(Visit.objects.all()))
    course = rng.choice(planned).enrolment
    rows = {"patient": course.patient}
    return rng.choice([
        lambda: ReadingFactory(visit=visit, heart_rate_bpm=rng.randint(60, 110)),
        lambda: Reading.objects.filter(visit=visit).update(spo2_percent=rng.randint(85, 99)),
        lambda: BoutFactory(visit=visit, place=visit.bouts.count() + 1)
        if visit.bouts.count() < 6 else None,
        lambda: Bout.objects.filter(visit=visit).update(rpe=rng.randint(9, 17)),
        lambda: FindingFactory(visit=visit, about=f"x{rng.random()}"[:20]),
        lambda: Finding.objects.filter(visit=visit).update(cleared_at=visit.arrived_at),
        lambda: Visit.objects.filter(pk=visit.pk).update(state="stopped", ended_at=None),
        lambda: Visit.objects.filter(pk=visit.pk).update(state="exercising"),
        lambda: PrescriptionFactory(enrolment=course)
        if not course.prescriptions.exists() else None,
        lambda: Prescription.objects.filter(enrolment=course).update(rpe_high=rng.randint(13, 15)),
        lambda: Interruption.objects.filter(visit=visit).update(settled_at=None),
        lambda: MedicineFactory(**rows, drug_class="beta_blocker"),
        lambda: PrecautionFactory(**rows),
    ])  # fmt: skip


def told(day, without):
    """The rows of a day, but for what only another part of the work offers."""
    names = [without] if without else ["last_time", "last_work"]
    return [replace(row, **dict.fromkeys(names)) for row in day.rows]


@pytest.mark.parametrize("seed", range(3))
def test_the_class_of_the_moment_is_what_it_would_be_worked_out_anew(planned, seed):
    """A random search: after every write, of this connection or another, kept equals new."""
    rng = random.Random(seed)
    slot, on, site = planned[0].slot, planned[0].on, planned[0].slot.site
    n_shared = 0
    for _ in range(40):
        write = writes(planned, rng)
        if rng.random() < 0.7:
            elsewhere(write) if rng.random() < 0.5 else write()
        stage = rng.choice(list(Stage))
        before, kept, new = (
            day_now(site, on, slot.pk),
            day_now(site, on, slot.pk),
            day_of(site, on, slot.pk),
        )
        n_shared += before is kept
        for day in (kept, new):
            offer_last_time(day, stage)
        without = {Stage.CHECK_IN: "last_work", Stage.EXERCISE: "last_time"}.get(stage)
        assert told(kept, without) == told(new, without)
        assert (kept.n_in, kept.seat_words) == (new.n_in, new.seat_words)
    assert n_shared > 30  # it is kept at all


def test_a_stop_stored_elsewhere_is_on_the_page_at_once(client, planned):
    from tests.factories.staff import UserFactory

    site, visit = planned[0].slot.site, Visit.objects.first()
    client.force_login(UserFactory(role="floor", sites=[site]))
    address = f"{reverse('attendance:rows')}?site={site.pk}&class={planned[0].slot_id}"
    for _ in range(2):
        assert b"Stopped" not in client.get(address).content
    now = visit.arrived_at + timedelta(minutes=1)
    row = Visit.objects.filter(pk=visit.pk)
    elsewhere(lambda: row.update(state="stopped", ended_at=now))
    for _ in range(2):
        assert b"Stopped" in client.get(address).content
