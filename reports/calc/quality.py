"""Published measures of a program, each as one small object.

Every condition is data (a column, an operator, a value), so that the database counts what is
stated here and tests hold the same statement to people counted on paper. Windows count the event's
day as day 0 and include their last day; two sessions on one day count as two (both from memory).
Not all that is published can be counted here; what cannot says why.
"""

import operator
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

CRE_EVENTS = ("mi", "pci", "cabg", "transplant", "valve")
CRE = "HEDIS Cardiac Rehabilitation, ncqa.org; counting of days from memory"
AHA = "ACC/AHA 2018, doi:10.1161/HCQ.0000000000000037"
WINDOW_DAYS = 180  # an episode is counted once its longest window is over

OPERATORS: dict[str, Callable[[Any, Any], bool]] = {
    "is": operator.eq,
    "is not": operator.ne,
    "at least": operator.ge,
    "at most": operator.le,
    "among": lambda value, several: value in several,
}


@dataclass(frozen=True)
class Condition:
    """What is asked of one column of a referral's totals; what is not known never fulfils it."""

    column: str
    how: str  # a key of OPERATORS
    value: Any

    def holds(self, row: Mapping[str, Any]) -> bool:
        """Whether a row fulfils it.

        Parameters
        ----------
        row : the columns of a referral's totals.

        Returns
        -------
        False also where the column is not known.
        """
        found = row[self.column]
        return found is not None and OPERATORS[self.how](found, self.value)


@dataclass(frozen=True)
class QualityMeasure:
    """A share of people, or why it is none here.

    Attributes
    ----------
    key : never changes; exports and addresses name it.
    population, numerator, window, exclusions : in words, as pages and exports print them.
    of, met : conditions that must all hold; ``met`` among those ``of`` the population.
    matured_days : days since the event until somebody can be counted; None counts at once. [days]
    because : why it cannot be counted here; "" where it can.
    """

    key: str
    name: str
    source: str
    population: str
    numerator: str
    window: str = "no window"
    exclusions: str = "none"
    of: tuple[Condition, ...] = ()
    met: tuple[Condition, ...] = ()
    matured_days: int | None = None
    because: str = ""

    @property
    def is_computable(self) -> bool:
        """Whether it can be counted from what is recorded here."""
        return not self.because

    def counts(self, row: Mapping[str, Any], days_since_event: int | None) -> bool:
        """Whether somebody is in the population.

        Parameters
        ----------
        row : the columns of a referral's totals.
        days_since_event : until today; None without a day of the event. [days]

        Returns
        -------
        False too for whoever is too young to be counted.
        """
        if self.matured_days is not None and (days_since_event or 0) < self.matured_days:
            return False
        return all(condition.holds(row) for condition in self.of)

    def is_met(self, row: Mapping[str, Any]) -> bool:
        """Whether somebody in the population is in the numerator too.

        Parameters
        ----------
        row : the columns of a referral's totals.

        Returns
        -------
        Whether every condition holds.
        """
        return all(condition.holds(row) for condition in self.met)


STARTED = Condition("sessions", "at least", 1)
ENDED = Condition("is_over", "is", True)


def _window(key: str, name: str, sessions: int, days: int) -> QualityMeasure:
    return QualityMeasure(
        key,
        name,
        CRE,
        "18 or older, referred after a heart attack, stent, bypass, valve or transplant",
        f"{sessions} sessions or more by day {days}",
        f"day 0 to {days} after discharge, else the event, both included; counted once "
        f"{WINDOW_DAYS} days are over",
        "angina and heart failure as the only event; people who died. Insurance without a gap is "
        "not known here and not asked for",
        of=(
            Condition("condition", "among", CRE_EVENTS),
            Condition("age", "at least", 18),
            Condition("reason", "is not", "died"),
        ),
        met=(Condition(f"days_to_{sessions}", "at most", days),),
        matured_days=WINDOW_DAYS,
    )


NOT_REFERRED = "the people whom a hospital or practice did not refer are unknown to this program"

MEASURES: tuple[QualityMeasure, ...] = (
    _window("initiation", "Initiation", 2, 30),
    _window("engagement-1", "Engagement 1", 12, 90),
    _window("engagement-2", "Engagement 2", 24, 180),
    _window("achievement", "Achievement", 36, 180),
    QualityMeasure(
        "pm-5b",
        "Enrolment, from records",
        f"{AHA}, PM-5B",
        "referred, and a clinician’s answer is that the payer’s rule is met",
        "one session or more, so far",
        of=(Condition("step", "at least", 1),),
        met=(STARTED,),
    ),
    QualityMeasure(
        "qm-1",
        "Time to enrolment",
        f"{AHA}, QM-1",
        "one session or more, with a day of discharge or event",
        "first session by day 21",
        "day 0 to 21 after discharge, else after the event, both included",
        "people without either day",
        of=(STARTED, Condition("event_days", "at least", -100_000)),
        met=(Condition("event_days", "at most", 21),),
    ),
    QualityMeasure(
        "qm-2",
        "Adherence",
        f"{AHA}, QM-2",
        "one session or more, and the course has ended",
        "36 sessions or more",
        of=(STARTED, ENDED),
        met=(Condition("sessions", "at least", 36),),
    ),
    QualityMeasure(
        "exit-assessed",
        "Assessed at exit",
        "NACR/BACPR 2018, assessment 2 recorded",
        "one session or more, and the course has ended",
        "exit assessment performed",
        of=(STARTED, ENDED),
        met=(Condition("has_exit", "is", True),),
    ),
    QualityMeasure(
        "goals-and-exit",
        "Completed as staff saw it, and assessed at exit",
        "common practice, no source",
        "one session or more, and the course has ended",
        "discharge noted as completed, and exit assessment performed",
        of=(STARTED, ENDED),
        met=(Condition("reason", "is", "completed"), Condition("has_exit", "is", True)),
    ),
    QualityMeasure(
        "pm-1-2",
        "Referral from hospital",
        f"{AHA}, PM-1 and PM-2",
        "discharged after a qualifying event, or with heart failure",
        "referred before discharge",
        because=f"{NOT_REFERRED}.",
    ),
    QualityMeasure(
        "pm-3-4",
        "Referral from practice",
        f"{AHA}, PM-3 and PM-4",
        "outpatients with a qualifying event in the last 12 months, or with heart failure",
        "referred, or the refusal documented",
        because=f"{NOT_REFERRED}.",
    ),
    QualityMeasure(
        "pm-5a",
        "Enrolment, from claims",
        f"{AHA}, PM-5A",
        "insured people with a qualifying event",
        "one session or more, at any program",
        because="claims of other providers are not held here.",
    ),
    QualityMeasure(
        "qm-3",
        "Communication",
        f"{AHA}, QM-3",
        "enrolled, and discharged from the program",
        "enrolment, adherence and outcomes sent to the referrer and to primary care",
        because="that a letter was sent is not recorded, only that it can be printed.",
    ),
    QualityMeasure(
        "society-adherence",
        "Adherence, program certification",
        "AACVPR certification, specification notes",
        "enrolled and discharged inside the period",
        "not stated in the text at hand",
        because="the text at hand gives the dates that count but not what adherence is.",
    ),
    QualityMeasure(
        "one-year",
        "Death and readmission within a year",
        "common practice, no source",
        "began the program",
        "died, or was admitted again",
        because="there is no link to a death register, and a stay elsewhere is known only when "
        "somebody tells.",
    ),
)
BY_KEY = {measure.key: measure for measure in MEASURES}
AGE_BANDS: tuple[tuple[int, int | None], ...] = ((18, 54), (55, 64), (65, 74), (75, None))


def band_of(age: int) -> str:
    """The age band of the filters (project choice; the published measures have 18 to 64 and 65+).

    Parameters
    ----------
    age : completed years on the day of the event. [years], 0 or more

    Returns
    -------
    Its bounds, such as "55-64"; "75-" from 75 on; "under-18" below 18.
    """
    for low, high in AGE_BANDS:
        if low <= age and (high is None or age <= high):
            return f"{low}-{high or ''}"
    return "under-18"
