"""Running the weeks: each figure from a handful of sessions counted by hand."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from programs.enrolment.models import ClassSlot, PlannedSession
from reports.running import Span, running
from tests.factories.assessments import AssessmentFactory
from tests.factories.attendance import (
    ClassMeetingFactory,
    FindingFactory,
    SafetyEventFactory,
    VisitFactory,
)
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory
from tests.factories.prescription import TreatmentPlanFactory
from tests.factories.staff import CredentialFactory, DrillFactory, SiteFactory, UserFactory

pytestmark = pytest.mark.django_db
FIRST, LAST, TODAY = date(2025, 3, 1), date(2025, 5, 31), date(2025, 6, 30)


def visit(course, slot, on, state, **more):
    meeting = slot.meetings.filter(on=on).first() or ClassMeetingFactory(
        slot=slot, on=on, opened_at=datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
    )
    return VisitFactory(enrolment=course, meeting=meeting, state=state, arrived_at=None, **more)


@pytest.fixture
def spring(site):
    slot = ClassSlotFactory(site=site, seats=4)
    a = EnrolmentFactory(patient__site=site, starts_on=date(2025, 3, 3))
    b = EnrolmentFactory(patient__site=site, starts_on=date(2025, 3, 3))
    done = {"minutes": 60, "counts_first": True}
    for on in (date(2025, 3, 3), date(2025, 3, 10), date(2025, 5, 5)):
        visit(a, slot, on, "finished", **done)
    stopped = visit(b, slot, date(2025, 3, 3), "stopped", **done)
    held = visit(b, slot, date(2025, 3, 10), "held")
    visit(b, slot, date(2025, 5, 5), "absent", absence="ill")
    visit(b, slot, date(2025, 5, 12), "absent", absence="unknown")
    visit(b, slot, date(2025, 6, 2), "finished", **done)  # after these days
    PlannedSession.objects.create(
        enrolment=a, slot=slot, on=date(2025, 5, 5), makes_up_on=date(2025, 4, 28),
        makes_up_slot=slot,
    )  # fmt: skip
    PlannedSession.objects.create(
        enrolment=b, slot=slot, on=date(2025, 5, 12), makes_up_on=date(2025, 4, 21),
        makes_up_slot=slot,
    )  # fmt: skip
    meeting = slot.meetings.get(on=date(2025, 5, 12))
    meeting.unmet, meeting.exception = ["no ECG"], "monitor on loan"
    meeting.save()
    by = UserFactory(role="physician", sites=[site])
    for on in (date(2025, 3, 3), date(2025, 4, 2), date(2025, 5, 3)):  # the third a day late
        TreatmentPlanFactory(enrolment=a, signed_on=on, signed_by=by)
    AssessmentFactory(enrolment=a, kind="six_weeks", performed_on=date(2025, 4, 21))  # day 49
    AssessmentFactory(enrolment=b, kind="six_weeks", performed_on=date(2025, 4, 22))  # day 50
    FindingFactory(visit=held, level=3)
    FindingFactory(visit=stopped, level=2)
    SafetyEventFactory(site=site, kind="transfer", happened_at=datetime(2025, 3, 3, 15, tzinfo=UTC))
    SafetyEventFactory(
        site=site, kind="fall", happened_at=datetime(2025, 3, 3, 15, tzinfo=UTC), is_withdrawn=True
    )
    DrillFactory(site=site, on=date(2025, 4, 1))
    return Span({site.pk: site.name}, FIRST, LAST, TODAY)


def test_every_figure_is_what_was_counted_by_hand(spring, people):
    CredentialFactory(user=people["floor"], kind="BLS", expires_on=TODAY)
    CredentialFactory(user=people["floor"], kind="ACLS", expires_on=TODAY - timedelta(days=1))
    found = running(spring)
    assert {row.name: (row.share.numerator, row.share.denominator) for row in found.shares} == {
        "Attendance": (5, 7),  # 3 of a, 2 of b; b absent twice
        "No-shows": (1, 7),
        "Make-ups attended": (1, 2),
        "Seats used": (5, 16),  # four classes of four
        "Opened with everything in order": (3, 4),
        "Plan signatures in time": (2, 4),  # a's third is a day late, b's first never came
        "Six-week reassessments in time": (1, 2),
        "Exit assessments done": (0, 0),
        "Sessions with a valid plan": (3, 4),  # a's three; b has no plan
        "Certifications valid today": (1, 2),
        "Emergency drills in time": (1, 1),  # 92 days, one quarter
    }
    assert found.hours == 4  # three of a, one of b
    assert {row.name: row.rate.n for row in found.rates} == {
        "Findings": 2, "Findings at hold or stop": 1, "Holds": 1, "Stops": 1, "Events": 1,
        "Serious events": 1,
    }  # fmt: skip
    assert found.absences == (("did not say", 1), ("ill", 1))


def test_more_people_than_seats_are_said_and_not_clipped(spring):
    ClassSlot.history.update(seats=1)  # as the timetable had it from the beginning
    row = next(row for row in running(spring).shares if row.name == "Seats used")
    assert row.share.denominator == 0
    assert row.none == "more came (5) than there are places (4)"


def test_other_sites_and_an_empty_span_say_none(client, people, spring):
    elsewhere = SiteFactory()
    nowhere = Span({elsewhere.pk: "x"}, FIRST, LAST, TODAY)
    found = running(nowhere)
    assert not sum(row.share.numerator for row in found.shares)
    client.force_login(people["manager"])
    page = client.get(reverse("reports:program-running"), {"since": "2001-01-01"}).content.decode()
    assert "None" not in page
    assert "none in these days" in page
