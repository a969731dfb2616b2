"""When resistance training may begin and how heavy, with the limits that a clinician confirms.

A date never lifts a precaution here: it only says when somebody looks again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from patients.calc.days import in_words


@dataclass(frozen=True)
class Stage:
    """A step of load: share of the one-repetition maximum, repetitions, exertion at most."""

    key: str
    name: str
    percent: tuple[int, int]  # of the one-repetition maximum
    repetitions: tuple[int, int]
    highest_rpe: int


# Load steps: J Clin Med 2021;10:3071, Table 4. 60 to 80 % is for selected people and never drafted.
STAGES = (
    Stage("familiarise", "familiarisation", (30, 30), (5, 10), 11),
    Stage("light", "light", (30, 50), (10, 15), 13),
    Stage("moderate", "moderate", (40, 60), (8, 15), 14),
    Stage("heavy", "heavy, selected people", (60, 80), (8, 10), 15),
)
BY_KEY: Mapping[str, Stage] = {stage.key: stage for stage in STAGES}
ORDER: Mapping[str, int] = {"": 0} | {stage.key: n for n, stage in enumerate(STAGES, 1)}
SETS, DAYS_A_WEEK = (1, 3), (2, 3)  # 1 to 3 sets: PMC3061490, Table 3; days from memory


@dataclass(frozen=True)
class Wait:
    """Weeks after an event, and of supervised aerobic exercise before."""

    weeks: int
    aerobic_weeks: int


# From memory: after a stent 3 weeks with 2 of aerobic exercise, after an attack or bypass 5 with 4.
# Other ways through the breastbone wait as a bypass does (project choice).
WAITS: Mapping[str, Wait] = {
    "pci": Wait(3, 2),
    "mi": Wait(5, 4),
    "cabg": Wait(5, 4),
    "valve": Wait(5, 4),
    "transplant": Wait(5, 4),
}


@dataclass(frozen=True)
class Limitation:
    """A precaution in force: it holds until somebody lifts it, whatever its review date."""

    words: str
    review_on: date | None


@dataclass(frozen=True)
class Start:
    """From when resistance may be considered, and what a clinician confirms first."""

    earliest: date | None  # None when no rule tells a day
    words: str
    to_confirm: tuple[str, ...] = ()

    def is_open(self, on: date) -> bool:
        """Whether the weeks are over and nothing waits to be confirmed.

        Parameters
        ----------
        on : the day.

        Returns
        -------
        False also where no rule tells a day: a clinician decides.

        References
        ----------
        project choice
        """
        return self.earliest is not None and not self.asks(on)

    def asks(self, on: date) -> tuple[str, ...]:
        """What speaks against resistance training on a day, so that it needs a reason.

        Parameters
        ----------
        on : the day.

        Returns
        -------
        That the weeks are not over, and each precaution in force; empty when nothing does.

        References
        ----------
        ``WAITS``, from memory.
        """
        told = [f"resistance with a precaution in force ({words})" for words in self.to_confirm]
        if self.earliest is not None and on < self.earliest:
            told.insert(0, f"resistance before {in_words(self.earliest)}")
        return tuple(told)


def start_of(
    event: str,
    event_on: date | None,
    aerobic_from: date | None,
    limits: Sequence[Limitation] = (),
    on: date | None = None,
) -> Start:
    """When resistance training may be considered.

    Parameters
    ----------
    event : kind of the qualifying event, as ``WAITS``.
    event_on : its day; None when it is not known.
    aerobic_from : day of the first supervised session; None before it.
    limits : precautions that nobody has lifted.
    on : the day of the prescription, beside which a review is told as past.

    Returns
    -------
    The later of the weeks since the event and of the weeks of supervised exercise; every precaution
    in force to be confirmed. Its review date changes words only.

    References
    ----------
    ``WAITS``, from memory. Sternal precautions have no agreed definition (Cahalin 2011).
    """
    confirm = tuple(_told(limit, on) for limit in limits)
    wait = WAITS.get(event)
    if wait is None:
        return Start(
            None, "No rule tells a start after this event: the clinician decides.", confirm
        )
    rule = f"{wait.weeks} weeks after the event and {wait.aerobic_weeks} of supervised exercise"
    if event_on is None or aerobic_from is None:
        lacking = "the day of the event" if event_on is None else "the first session"
        return Start(None, f"Resistance after {rule}; {lacking} is not known.", confirm)
    earliest = max(
        event_on + timedelta(weeks=wait.weeks), aerobic_from + timedelta(weeks=wait.aerobic_weeks)
    )
    return Start(earliest, f"Resistance from {in_words(earliest)}: {rule}.", confirm)


def _told(limit: Limitation, on: date | None) -> str:
    if limit.review_on is None:
        return f"{limit.words}; no review date"
    if on is not None and limit.review_on <= on:
        return f"{limit.words}; review was due {in_words(limit.review_on)}, still holds"
    return f"{limit.words}; review {in_words(limit.review_on)}"
