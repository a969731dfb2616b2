"""Which assessments come due, of many courses at once."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Prefetch, Q

from assessments.calc.schedule import Course, Line, lines_on
from assessments.calc.timing import Milestone, Pausing, Standing
from assessments.models import Assessment, AssessmentPolicy
from programs.enrolment.models import Enrolment, PlannedSession
from programs.staff.models import Site, User

AHEAD_DAYS = 14
SOON_DAYS = 2
# What was never said of somebody who left is asked for this long, then only the course shows it.
ASKED_AFTER_DAYS = 90


def course_of(enrolment: Enrolment) -> Course:
    """A course as its schedule reads it: ``pauses`` and the site's policy, prefetched for many."""
    return Course(
        enrolment.starts_on,
        enrolment.weeks,
        tuple(Pausing(p.from_on, p.until_on) for p in enrolment.pauses.all()),
        tuple(AssessmentPolicy.of(enrolment.patient.site).rhythm_days),
        enrolment.closed_on,
        seeks_exit=enrolment.outcome != Enrolment.Outcome.DIED,
    )


def lines_of(enrolment: Enrolment, today: date) -> list[Line]:
    """How every assessment of a course stands. Reads ``assessments`` too: prefetch for many."""
    return lines_on(course_of(enrolment), enrolment.assessments.all(), today)


def has_baseline(enrolment: Enrolment) -> bool:
    """The baseline assessment was performed."""
    done = enrolment.assessments.filter(performed_on__isnull=False)
    return done.filter(kind=Assessment.Kind.BASELINE).exists()


def watched(site_ids: Iterable[int], today: date) -> Any:
    """Open courses, and those ended lately, with all that their schedule reads: five queries."""
    booked = Assessment.objects.select_related("booked_with")
    lately = Q(closed_on=None) | Q(closed_on__gte=today - timedelta(days=ASKED_AFTER_DAYS))
    return (
        Enrolment.objects.filter(lately, patient__site__in=site_ids)
        .select_related("patient__site__assessment_policy", "clinician")
        .prefetch_related("pauses", Prefetch("assessments", booked))
    )


def at_work(person: User | None) -> User | None:
    """Somebody whose account is open; work of somebody who has gone is nobody's."""
    return person if person is not None and person.is_active else None


@dataclass(frozen=True)
class DueAssessment:
    """One assessment that waits for somebody, with the day proposed for it."""

    enrolment: Enrolment
    line: Line
    proposed_on: date | None = None

    @property
    def key(self) -> str:
        return f"{self.enrolment.pk}-{self.milestone.kind}-{self.milestone.number}"

    @property
    def milestone(self) -> Milestone:
        return self.line.milestone

    @property
    def standing(self) -> Standing:
        return self.line.standing

    @property
    def due_on(self) -> date:
        return self.line.on

    @property
    def days(self) -> int:
        """Until it is due or booked, negative when overdue."""
        return (self.due_on - self.line.today).days

    @property
    def clinician(self) -> User | None:
        """With whom it is booked, else who looks after the course; nobody who has gone."""
        stored = self.line.stored
        booked = stored.booked_with if stored is not None and self.line.is_booked else None
        return at_work(booked) or at_work(self.enrolment.clinician)

    @property
    def group(self) -> str:
        """The heading it stands under on Due; what is due now has none."""
        if self.standing is Standing.MISSED:
            return "Missed: say why, or record it late"
        return "Later this week" if self.days > SOON_DAYS else ""

    @property
    def what(self) -> str:
        if self.milestone.sought_until and self.standing is not Standing.MISSED:
            return "Exit results, to be obtained after leaving"
        return self.milestone.name


def due_assessments(enrolments: Iterable[Enrolment], ahead_days: int) -> list[DueAssessment]:
    """Of each course what waits next, within some days, and what was missed and not explained."""
    found = []
    for enrolment in enrolments:
        today = enrolment.patient.site.today()
        until = today + timedelta(days=ahead_days)
        is_first, paused = True, course_of(enrolment).is_paused(today)
        for line in lines_of(enrolment, today):
            if paused and _waits_for_return(line):
                continue
            asked = line.standing is Standing.MISSED and line.milestone.is_formal
            if asked and (enrolment.is_open or line.milestone.sought_until):
                found.append(DueAssessment(enrolment, line))
            elif line.is_ahead and is_first:
                is_first = False
                if line.on <= until or line.standing is Standing.OPEN:
                    found.append(DueAssessment(enrolment, line))
    return sorted(
        found, key=lambda due: (due.standing is Standing.MISSED, due.due_on, due.enrolment.pk)
    )


def _waits_for_return(line: Line) -> bool:
    """While a pause lasts, what is not overdue moves on with it, unless it is booked."""
    return line.milestone.due_on >= line.today and not line.is_booked


def to_book(site: Site, until: date) -> list[DueAssessment]:
    """What comes due at a site by a day and is not booked, with a class day proposed for each."""
    today = site.today()
    coming = PlannedSession.objects.filter(on__gte=today).order_by("on")
    enrolments = watched([site.pk], today).prefetch_related(
        Prefetch("planned", coming, to_attr="coming")
    )
    found = []
    for enrolment in enrolments:
        if course_of(enrolment).is_paused(today):
            continue
        for line in lines_of(enrolment, today):
            if line.is_ahead and not line.is_booked and line.milestone.due_on <= until:
                days = [session.on for session in enrolment.coming]
                on = proposed_day(line.milestone, days, today)
                found.append(DueAssessment(enrolment, line, on))
    return sorted(found, key=lambda due: (due.milestone.due_on, due.enrolment.pk))


def proposed_day(milestone: Milestone, class_days: Iterable[date], today: date) -> date:
    """The person's own class day nearest the due day, inside the window; else the due day.

    On a class day nobody travels twice. A day gone by becomes today.
    """
    soonest = max(today, milestone.opens_on)
    inside = [day for day in class_days if soonest <= day <= max(milestone.closes_on, today)]
    otherwise = max(today, milestone.due_on)
    return min(inside, key=lambda day: (abs((day - otherwise).days), day), default=otherwise)
