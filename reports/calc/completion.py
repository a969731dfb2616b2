"""What "completed" means: several published definitions, each computed from the same raw facts.

The denominator is everybody who started (at least one counted session) and whose course has
ended; people still in the program are counted apart, never as failures. Each definition carries its
source or the words "common practice, no source".

Figures over years are sums of cohorts: the courses of one site that began in one month, counted.
The database counts them (``reports.totals``); ``tally`` counts them one by one and says what it
must come to.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from reports.calc.proportion import Proportion


@dataclass(frozen=True)
class CourseFacts:
    """Raw facts of one course."""

    site: str
    starts_on: date
    sessions: int
    sessions_in_36_weeks: int
    planned: int
    has_exit: bool
    has_ended: bool
    days_to_start: int | None = None  # from discharge, else event, else referral
    outcome: str = ""

    @property
    def has_started(self) -> bool:
        """Whether at least one session counted."""
        return self.sessions > 0


@dataclass(frozen=True)
class Definition:
    """When a course is completed: ``times`` x sessions >= ``of_planned`` x planned + ``least``.

    Attributes
    ----------
    counts : which sessions, "sessions" or "sessions_in_36_weeks". [sessions]
    times, of_planned, least : whole numbers, so that a share such as 70 % is exact.
    needs_exit : an exit assessment is asked for too.
    """

    key: str
    name: str
    source: str
    counts: str = "sessions"
    times: int = 1
    of_planned: int = 0
    least: int = 0
    needs_exit: bool = False

    def holds(self, course: CourseFacts) -> bool:
        """Whether a course is completed by this definition.

        Parameters
        ----------
        course : its raw facts.

        Returns
        -------
        Whether it is, also of a course that has not ended.
        """
        n: int = getattr(course, self.counts)
        enough = self.times * n >= self.of_planned * course.planned + self.least
        return enough and (course.has_exit or not self.needs_exit)


DEFINITIONS: tuple[Definition, ...] = (
    Definition(
        "36-in-36",
        "36 or more sessions within 36 weeks",
        "Keteyian 2022, doi:10.1097/HCR.0000000000000675",
        counts="sessions_in_36_weeks",
        least=36,
    ),
    Definition(
        "36",
        "36 or more sessions",
        "Ritchey 2020, doi:10.1161/CIRCOUTCOMES.119.005902",
        least=36,
    ),
    Definition(
        "over-75",
        "More than 75 % of planned sessions",
        "Burdiat Rampa 2008, Rev Urug Cardiol 23(2)",
        times=4,
        of_planned=3,
        least=1,  # more than, in whole sessions
    ),
    Definition(
        "70-and-exit",
        "At least 70 % of planned sessions and an exit assessment",
        "common practice, no source",
        times=10,
        of_planned=7,
        needs_exit=True,
    ),
)
BY_KEY = {definition.key: definition for definition in DEFINITIONS}


@dataclass(frozen=True)
class Cohort:
    """The courses of one site that began in one month, counted. [courses]

    Attributes
    ----------
    month : months since year 0, January of which is 0.
    n_ended : started and ended, the denominator of completion.
    n_in_program : started and still open.
    n_never_started : ended without a counted session.
    completed : of those who started and ended, by the key of each definition.
    n_timely, n_wait_known : starters within the target, of those whose wait is known.
    """

    site: str
    month: int
    n_enrolled: int
    n_ended: int
    n_in_program: int
    n_never_started: int
    n_timely: int
    n_wait_known: int
    completed: tuple[int, ...]  # in the order of DEFINITIONS

    @property
    def month_words(self) -> str:
        """The month, such as Mar 2026."""
        return f"{date(self.month // 12, self.month % 12 + 1, 1):%b %Y}"


def tally(facts: Iterable[CourseFacts], within_days: int) -> list[Cohort]:
    """Cohorts of courses, each course looked at.

    Parameters
    ----------
    facts : the courses, in any order.
    within_days : longest wait in time, that day included. [days], 0 or more

    Returns
    -------
    One cohort for each site and month in which a course began, by site and month.
    """
    groups: dict[tuple[str, int], list[CourseFacts]] = defaultdict(list)
    for f in facts:
        groups[f.site, f.starts_on.year * 12 + f.starts_on.month - 1].append(f)
    return [_cohort(*key, groups[key], within_days) for key in sorted(groups)]


def _cohort(site: str, month: int, courses: list[CourseFacts], within_days: int) -> Cohort:
    started = [f for f in courses if f.has_started]
    ended = [f for f in started if f.has_ended]
    waits = [f.days_to_start for f in started if f.days_to_start is not None]
    return Cohort(
        site,
        month,
        n_enrolled=len(courses),
        n_ended=len(ended),
        n_in_program=len(started) - len(ended),
        n_never_started=sum(f.has_ended and not f.has_started for f in courses),
        n_timely=sum(days <= within_days for days in waits),
        n_wait_known=len(waits),
        completed=tuple(sum(d.holds(f) for f in ended) for d in DEFINITIONS),
    )


@dataclass(frozen=True)
class CompletionRow:
    label: str
    completed: Proportion
    n_in_program: int  # started, course still open: not in the denominator
    n_never_started: int  # enrolled, course closed without a counted session


def completion_row(label: str, cohorts: Iterable[Cohort], by: Definition) -> CompletionRow:
    """One line of the completion table.

    Parameters
    ----------
    label : what the line is called.
    cohorts : the courses of the line, counted; none is allowed.
    by : the definition of completed.

    Returns
    -------
    Completed of those who started and ended [people], and beside it who is still in the program
    or never started.
    """
    cohorts, place = list(cohorts), DEFINITIONS.index(by)
    return CompletionRow(
        label,
        Proportion(sum(c.completed[place] for c in cohorts), sum(c.n_ended for c in cohorts)),
        sum(c.n_in_program for c in cohorts),
        sum(c.n_never_started for c in cohorts),
    )


def by_month(cohorts: Sequence[Cohort], by: Definition) -> list[CompletionRow]:
    """Completion of each month's starters, oldest first.

    Parameters
    ----------
    cohorts : the courses, counted, in any order.
    by : the definition of completed.

    Returns
    -------
    One line a month, by the day a course starts; months in which none starts are left out.
    """
    months: dict[int, list[Cohort]] = defaultdict(list)
    for cohort in cohorts:
        months[cohort.month].append(cohort)
    return [completion_row(months[m][0].month_words, months[m], by) for m in sorted(months)]


def by_site(cohorts: Sequence[Cohort], by: Definition) -> list[CompletionRow]:
    """Completion at each site.

    Parameters
    ----------
    cohorts : the courses, counted, in any order.
    by : the definition of completed.

    Returns
    -------
    One line a site, by name.
    """
    sites: dict[str, list[Cohort]] = defaultdict(list)
    for cohort in cohorts:
        sites[cohort.site].append(cohort)
    return [completion_row(site, sites[site], by) for site in sorted(sites)]


def timely_start(cohorts: Iterable[Cohort]) -> Proportion:
    """Starters whose first session came in time after discharge, event or referral.

    Parameters
    ----------
    cohorts : the courses, counted, in any order.

    Returns
    -------
    In time of the starters whose wait is known. [people]
    """
    cohorts = list(cohorts)
    return Proportion(sum(c.n_timely for c in cohorts), sum(c.n_wait_known for c in cohorts))
