"""Which assessments come due, of many courses at once."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from django.db.models import Case, F, Prefetch, QuerySet, When, prefetch_related_objects

from assessments.calc.schedule import Course, Line, asked_for, lines_on
from assessments.calc.timing import Milestone, Pausing, Standing
from assessments.models import Assessment, AssessmentPolicy
from patients.prepared import Prepared, rows_at
from programs.enrolment.models import Enrolment, Pause, PlannedSession
from programs.staff.models import Site, User
from programs.staff.queries import people_by

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


def performed_kinds(enrolment: Enrolment) -> set[str]:
    """The kinds of assessment that were performed: one query."""
    done = enrolment.assessments.filter(performed_on__isnull=False)
    return set(done.order_by().values_list("kind", flat=True))


def watched(site_ids: Iterable[int], today: date) -> tuple[Any, Any]:
    """Open courses, and those that ended lately; apart, and in no order, each is found by index."""
    mine = Enrolment.objects.filter(patient__site__pk__aside=list(site_ids)).order_by()
    lately = today - timedelta(days=ASKED_AFTER_DAYS)
    return mine.still_open(), mine.filter(closed_on__gte=lately)


_CARED = Case(When(clinician__is_active=True, then=F("clinician")))
_COURSE = ["pk", "patient__site", "starts_on", "weeks", "closed_on", "outcome"]


def _still_open(at: Any) -> QuerySet[Any, Any]:
    mine = Enrolment.objects.filter(patient__site__pk__aside=at.site_ids()).order_by()
    return mine.still_open().values_list(*_COURSE, _CARED)


def _left_lately(at: Any, *, since: date) -> QuerySet[Any, Any]:
    mine = Enrolment.objects.filter(patient__site__pk__aside=at.site_ids()).order_by()
    return mine.filter(closed_on__gte=since).values_list(*_COURSE, _CARED)


def _pauses(keys: Any) -> QuerySet[Any, Any]:
    spans = Pause.objects.filter(enrolment__pk__listed=keys).order_by("from_on")
    return spans.values_list("enrolment", "from_on", "until_on")


def _stored(keys: Any) -> QuerySet[Any, Any]:
    with_whom = Case(When(booked_with__is_active=True, then=F("booked_with")))
    rows = Assessment.objects.filter(enrolment__pk__listed=keys).order_by()
    return rows.values_list("enrolment", *Booked._fields[:-1], with_whom)


_POLICIES = Prepared(
    lambda sites: AssessmentPolicy.objects.filter(site__pk__listed=sites), sites=list
)
_PAUSES, _STORED = Prepared(_pauses, keys=list), Prepared(_stored, keys=list)


_COURSES = Prepared(
    lambda keys: (
        Enrolment.objects.filter(pk__listed=keys).select_related("patient__site").order_by()
    ),
    keys=list,
)


def with_people(keys: Iterable[int]) -> dict[int, Enrolment]:
    """Courses by their keys, each with the person and the site that a page names."""
    return {row.pk: row for row in _COURSES(keys=keys)}


class Booked(NamedTuple):
    """What the schedule reads of an assessment, with its key and with whom it is booked."""

    kind: str
    number: int
    planned_on: date | None
    performed_on: date | None
    not_obtained_because: str
    pk: int
    booked_with: int | None  # nobody who has gone


class Waiting(NamedTuple):
    """One assessment that waits for somebody, by keys alone."""

    enrolment: int
    line: Line
    clinician: int | None  # with whom it is booked, else who looks after the course

    @property
    def days(self) -> int:
        """Until it is due or booked, negative when overdue."""
        return (self.line.on - self.line.today).days

    @property
    def key(self) -> str:
        milestone = self.line.milestone
        return f"{self.enrolment}-{milestone.kind}-{milestone.number}"

    @property
    def order(self) -> tuple[bool, date, int]:
        """What was missed comes last, else the longest overdue first."""
        return self.line.standing is Standing.MISSED, self.line.on, self.enrolment


class OpenCourse(NamedTuple):
    """A course as the schedule and the plans of a site read it."""

    pk: int
    site: int
    starts_on: date
    weeks: int
    closed_on: date | None
    outcome: str
    clinician: int | None  # nobody who has gone


def open_courses(sites: Iterable[Site]) -> list[OpenCourse]:
    """The courses nobody has ended, in no order: one query of bare values."""
    return list(map(OpenCourse._make, rows_at(_still_open, [site.pk for site in sites])))


def waiting_at(
    sites: Iterable[Site], ahead_days: int, going: Sequence[OpenCourse] | None = None
) -> list[Waiting]:
    """Of each course what waits next, within some days, and what was missed and not explained.

    Four queries of bare values, and the schedule of each course once a day: a page shows few of
    hundreds of courses. ``going`` are the open ones, where somebody has read them already.
    """
    sites = list(sites)
    days = {site.pk: site.today() for site in sites}
    since = min(days.values(), default=date.today()) - timedelta(days=ASKED_AFTER_DAYS)
    lately = map(OpenCourse._make, rows_at(_left_lately, list(days), since=since))
    courses = [*(open_courses(sites) if going is None else going), *lately]
    keys = [course.pk for course in courses]  # named one by one, they are looked up one by one
    pauses: dict[int, list[Pausing]] = defaultdict(list)
    for pk, from_on, until_on in _PAUSES(keys=keys):
        pauses[pk].append(Pausing(from_on, until_on))
    records: dict[int, list[Booked]] = defaultdict(list)
    for row in _STORED(keys=keys):
        records[row[0]].append(Booked._make(row[1:]))
    rhythms = {policy.site_id: tuple(policy.rhythm_days) for policy in _POLICIES(sites=list(days))}
    lines = []
    for pk, site, starts_on, weeks, closed_on, outcome, clinician in courses:
        course = Course(
            starts_on,
            weeks,
            tuple(pauses[pk]) if pk in pauses else (),
            rhythms.get(site, ()),
            closed_on,
            seeks_exit=outcome != Enrolment.Outcome.DIED,
        )
        mine = tuple(records[pk]) if pk in records else ()
        for line in asked_for(course, mine, days[site], ahead_days):
            booked = line.stored.booked_with if line.is_booked else None
            lines.append(Waiting(pk, line, booked or clinician))
    return sorted(lines, key=lambda one: one.order)


def at_work(person: User | None) -> User | None:
    """Somebody whose account is open; work of somebody who has gone is nobody's."""
    return person if person is not None and person.is_active else None


@dataclass(frozen=True)
class DueAssessment:
    """One assessment that waits for somebody, with the day proposed for it."""

    enrolment: Enrolment
    line: Line
    clinician: User | None = None
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


def with_courses(
    lines: Sequence[Waiting],
    of: Mapping[int, Enrolment] | None = None,
    people: Mapping[int, User] | None = None,
) -> list[DueAssessment]:
    """What waits, with the courses and clinicians a page names: a query for each not at hand."""
    if of is None:
        of = with_people({line.enrolment for line in lines})
    if people is None:
        people = people_by(line.clinician for line in lines if line.clinician)
    return [
        DueAssessment(of[one.enrolment], one.line, people[one.clinician] if one.clinician else None)
        for one in lines
    ]


def to_book(site: Site, until: date) -> list[DueAssessment]:
    """What comes due at a site by a day and is not booked, with a class day proposed for each."""
    today = site.today()
    coming = PlannedSession.objects.filter(on__gte=today).order_by("on")
    enrolments = [
        enrolment
        for part in watched([site.pk], today)
        for enrolment in part.select_related("patient__site__assessment_policy", "clinician")
    ]
    ahead = Prefetch("planned", coming, to_attr="coming")
    prefetch_related_objects(enrolments, "pauses", "assessments", ahead)
    found = []
    for enrolment in enrolments:
        if course_of(enrolment).is_paused(today):
            continue
        for line in lines_of(enrolment, today):
            if line.is_ahead and not line.is_booked and line.milestone.due_on <= until:
                days = [session.on for session in enrolment.coming]
                on = proposed_day(line.milestone, days, today)
                found.append(DueAssessment(enrolment, line, at_work(enrolment.clinician), on))
    return sorted(found, key=lambda due: (due.milestone.due_on, due.enrolment.pk))


def proposed_day(milestone: Milestone, class_days: Iterable[date], today: date) -> date:
    """The person's own class day nearest the due day, inside the window; else the due day.

    On a class day nobody travels twice. A day gone by becomes today.
    """
    soonest = max(today, milestone.opens_on)
    inside = [day for day in class_days if soonest <= day <= max(milestone.closes_on, today)]
    otherwise = max(today, milestone.due_on)
    return min(inside, key=lambda day: (abs((day - otherwise).days), day), default=otherwise)
