"""Beside an open sheet few of the class are read; they are what the whole class says of them."""

import random
from datetime import time, timedelta

import pytest

from programs.attendance.today.lines import strip_of
from programs.attendance.today.queries import beside_sheet, day_of
from tests.factories.assessments import ConcernFactory
from tests.factories.attendance import (
    BoutFactory,
    ClassMeetingFactory,
    FindingFactory,
    ReadingFactory,
    VisitFactory,
)
from tests.factories.enrolment import (
    ClassChangeFactory,
    ClassSlotFactory,
    EnrolmentFactory,
    PlannedSessionFactory,
)
from tests.factories.prescription import PrescriptionFactory

pytestmark = pytest.mark.django_db
ENDED = ("finished", "stopped", "held")


def busy(site, rng, n=10):
    """A class in its midst: some absent, some made up for, some with something to answer."""
    today = site.today()
    slot = ClassSlotFactory(site=site, weekday=today.weekday(), seats=rng.choice([n - 3, n]))
    meeting = ClassMeetingFactory(slot=slot, on=today)
    changed = rng.choice([{}, {"starts_at": time(16)}, {"seats": n}, {"is_cancelled": True}])
    if changed:
        ClassChangeFactory(slot=slot, on=today, **{"is_cancelled": False} | changed)
    other = ClassSlotFactory(site=site, weekday=(today.weekday() + 3) % 7)
    later = ClassMeetingFactory(slot=other, on=today)
    for _ in range(n):
        course = EnrolmentFactory(patient__site=site, starts_on=today - timedelta(days=30))
        made_up = {"makes_up_on": today - timedelta(days=7), "makes_up_slot": slot}
        PlannedSessionFactory(
            enrolment=course, slot=slot, on=today, **(made_up if rng.random() < 0.4 else {})
        )
        if rng.random() < 0.7:
            PrescriptionFactory(enrolment=course, rpe_high=rng.choice([12, 15]))
        if rng.random() < 0.2:
            ConcernFactory(assessment__enrolment=course)
        if rng.random() < 0.3:  # in another class of the day as well
            PlannedSessionFactory(enrolment=course, slot=later.slot, on=today)
            FindingFactory(visit=VisitFactory(enrolment=course, meeting=later), level=3)
        state = rng.choice([None, "arrived", "exercising", "exercising", "absent", *ENDED])
        if state is None:
            continue
        visit = VisitFactory(
            enrolment=course, meeting=meeting, state=state, arrived_at=None,
            absence="ill" if state == "absent" else "",
            minutes=40 if state == "finished" else None,
        )  # fmt: skip
        if state != "absent":
            ReadingFactory(visit=visit, heart_rate_bpm=rng.randint(60, 90))
        if state == "exercising":
            BoutFactory(visit=visit, minutes=None, rpe=14)
        if rng.random() < 0.4:
            FindingFactory(visit=visit, level=rng.choice([2, 3, 4]))
    return slot, meeting


@pytest.mark.parametrize("seed", range(6))
def test_the_few_are_as_in_the_whole_class(site, seed):
    slot, meeting = busy(site, random.Random(seed))
    whole = day_of(site, meeting.on, slot.pk)
    rows = {row.planned.pk: row for row in whole.rows}
    for visit in meeting.visits.all():
        few = beside_sheet(visit)
        assert (few.site, few.on, few.chosen) == (site, whole.on, whole.chosen)
        assert few.starts_at == whole.starts_at
        assert visit.pk in {row.visit.pk for row in few.rows if row.visit}
        assert [row for row in few.rows if row != rows[row.planned.pk]] == []
        assert strip_of(few.rows, visit.pk) == strip_of(whole.rows, visit.pk)


def test_the_search_shows_few_of_many_and_every_kind_of_word(site):
    told, left_out = set(), 0
    for seed in range(6):
        slot, meeting = busy(site, random.Random(seed))
        whole = day_of(site, meeting.on, slot.pk)
        for visit in meeting.visits.all():
            few = beside_sheet(visit)
            left_out += len(whole.rows) - len(few.rows)
            told |= {word.look for word, _ in strip_of(few.rows, visit.pk)}
            told |= {flag for row in few.rows for flag in row.flags if "seat" in flag}
            told |= {row.make_up_words[:7] for row in few.rows}
        slot.weekday = (slot.weekday + 1) % 7  # the next class of this hour is another
        slot.save()
    assert left_out > 50
    assert {"stop", "hold", "note", "in the seat of somebody absent", "make-up", ""} <= told


def test_the_way_back_names_the_hour_of_the_day(reader, site):
    slot = ClassSlotFactory(site=site, starts_at=time(9))
    visit = VisitFactory(meeting=ClassMeetingFactory(slot=slot), enrolment__patient__site=site)
    ClassChangeFactory(slot=slot, on=visit.on, starts_at=time(16), is_cancelled=False)
    page = reader("sheet", visit.pk)
    assert "</span> 16:00 class" in page
    assert "09:00" not in page[: page.index("</nav>")]
