"""What "completed" means: several published definitions, each computed from the same raw facts.

The denominator is everybody who started (at least one counted session) and whose course has
ended; people still in the program are counted apart, never as failures. Each definition carries its
source or the words "common practice, no source".
"""

from collections.abc import Callable, Iterable, Sequence
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
    has_exit_assessment: bool
    has_ended: bool
    days_to_start: int | None = None  # from discharge, else event, else referral
    outcome: str = ""

    @property
    def has_started(self) -> bool:
        """Whether at least one session counted."""
        return self.sessions > 0


@dataclass(frozen=True)
class Definition:
    key: str
    name: str
    source: str
    holds: Callable[[CourseFacts], bool]


DEFINITIONS: tuple[Definition, ...] = (
    Definition(
        "36-in-36",
        "36 or more sessions within 36 weeks",
        "Keteyian 2022, doi:10.1097/HCR.0000000000000675",
        lambda f: f.sessions_in_36_weeks >= 36,
    ),
    Definition(
        "36",
        "36 or more sessions",
        "Ritchey 2020, doi:10.1161/CIRCOUTCOMES.119.005902",
        lambda f: f.sessions >= 36,
    ),
    Definition(
        "over-75",
        "More than 75 % of planned sessions",
        "Burdiat Rampa 2008, Rev Urug Cardiol 23(2)",
        lambda f: 4 * f.sessions > 3 * f.planned,
    ),
    Definition(
        "70-and-exit",
        "At least 70 % of planned sessions and an exit assessment",
        "common practice, no source",
        lambda f: 10 * f.sessions >= 7 * f.planned and f.has_exit_assessment,
    ),
)
BY_KEY = {definition.key: definition for definition in DEFINITIONS}


@dataclass(frozen=True)
class CompletionRow:
    label: str
    completed: Proportion
    n_in_program: int  # started, course still open: not in the denominator
    n_never_started: int  # enrolled, course closed without a counted session


def completion_row(label: str, facts: Iterable[CourseFacts], by: Definition) -> CompletionRow:
    """One line of the completion table.

    Parameters
    ----------
    label : what the line is called.
    facts : the courses of the line; none is allowed.
    by : the definition of completed.

    Returns
    -------
    Completed of those who started and ended [people], and beside it who is still in the program
    or never started.
    """
    facts = list(facts)
    ended = [f for f in facts if f.has_started and f.has_ended]
    return CompletionRow(
        label,
        Proportion(sum(by.holds(f) for f in ended), len(ended)),
        sum(f.has_started and not f.has_ended for f in facts),
        sum(not f.has_started and f.has_ended for f in facts),
    )


def by_month(facts: Sequence[CourseFacts], by: Definition) -> list[CompletionRow]:
    """Completion of each month's starters, oldest first.

    Parameters
    ----------
    facts : the courses, in any order.
    by : the definition of completed.

    Returns
    -------
    One line a month, by the day a course starts; months in which none starts are left out.
    """
    months = sorted({(f.starts_on.year, f.starts_on.month) for f in facts})
    return [
        completion_row(
            f"{date(year, month, 1):%b %Y}",
            [f for f in facts if (f.starts_on.year, f.starts_on.month) == (year, month)],
            by,
        )
        for year, month in months
    ]


def by_site(facts: Sequence[CourseFacts], by: Definition) -> list[CompletionRow]:
    """Completion at each site.

    Parameters
    ----------
    facts : the courses, in any order.
    by : the definition of completed.

    Returns
    -------
    One line a site, by name.
    """
    return [
        completion_row(site, [f for f in facts if f.site == site], by)
        for site in sorted({f.site for f in facts})
    ]


def timely_start(facts: Iterable[CourseFacts], within_days: int) -> Proportion:
    """Starters whose first session came within so many days of discharge, event or referral.

    Parameters
    ----------
    facts : the courses, in any order.
    within_days : longest wait in time, that day included. [days], 0 or more

    Returns
    -------
    In time of the starters whose wait is known. [people]
    """
    known = [f.days_to_start for f in facts if f.has_started and f.days_to_start is not None]
    return Proportion(sum(days <= within_days for days in known), len(known))
