"""One step a week, from what really happened: longer, then harder, never beyond what is signed.

Duration before intensity, one variable at a time: R. W. Squires et al., "Progression of exercise
training in early outpatient cardiac rehabilitation," J. Cardiopulm. Rehabil. Prev., 2018,
doi:10.1097/HCR.0000000000000337. The sizes of the steps are from memory of the ACSM guidelines. No
step at a caution or a hold, and a step back after two weeks away: common practice, no source. What
counts as done, and how much of it must be known, is a project choice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from itertools import pairwise
from math import ceil, floor
from typing import NamedTuple

from patients.calc.days import in_words
from patients.calc.limits import NotScorable
from programs.prescription.calc.lifts import Lift

VERSION = "progression-2"
WEEK_DAYS = 7  # a dose is kept at least so long, and judged by so many days
FEWEST_SESSIONS = 2  # of a week, before anything is raised
AWAY_DAYS = 14
SHARE_DONE = 0.9  # of the minutes prescribed
MORE_MINUTES = 0.15  # of the minutes, in a week; from memory: 10 to 20 per cent, 1 to 5 min
MOST_MINUTES_MORE = 5
HARDER = 1.05  # from memory: steps of 5 to 10 per cent
BACK = 0.8  # of minutes and work, after two weeks away (project choice)
EASIER = 0.95
LEAST_METS, LEAST_MINUTES = 1.5, 5  # no step back goes below (project choice)
UNSIGNED = "No signed plan: nothing is raised before it is signed."
SIGNATURE = "More needs a physician's signature."
HALTS = ("stop", "hold", "caution")  # levels of a finding at which nothing is raised, worst first


class Dose(NamedTuple):
    """An aerobic dose, as far as it is raised or lowered, and what it should feel like."""

    from_on: date
    minutes: int
    mets: float | None
    rpe_low: int
    rpe_high: int
    high_bpm: int | None = None


class Most(NamedTuple):
    """The most that a signed plan allows; None of a work means that no work was signed."""

    minutes: int
    mets: float | None


class Day(NamedTuple):
    """A day of the course: what was done, and the worst that was found."""

    on: date
    exercised: bool = True
    minutes: int | None = None  # of aerobic exercise
    rpe: int | None = None  # the highest
    heart_rate_bpm: int | None = None  # the highest
    level: str = ""
    finding: str = ""


class Step(StrEnum):
    LONGER = "longer"
    HARDER = "harder"
    RESISTANCE = "resistance"  # more of it
    KEEP = "as it is"
    BACK = "a step back"


class Week(StrEnum):
    """How the week of aerobic exercise went, which decides whether anything may be raised."""

    AWAY = "away"  # two weeks without exercise
    HALTED = "halted"  # a caution, a hold or a stop
    YOUNG = "young"  # the dose, or the course, is younger than a week
    FEW = "few"  # too few sessions
    UNKNOWN = "unknown"
    HARD = "hard"  # at one session or more above the range
    SHORT = "short"
    WELL = "well"


@dataclass(frozen=True)
class Proposal:
    """What to do with a dose, and why, sentence by sentence."""

    step: Step
    minutes: int
    mets: float | None
    reasons: tuple[str, ...]
    week: Week = Week.YOUNG
    strength: str = ""  # stage of resistance, and its lifts, where any are prescribed
    lifts: tuple[Lift, ...] = ()

    @property
    def changes(self) -> bool:
        """Whether anything is to be written.

        Returns
        -------
        False where the dose stays as it is.
        """
        return self.step != Step.KEEP


def propose(dose: Dose, most: Most | None, days: Sequence[Day], today: date) -> Proposal:
    """The next step of an aerobic dose.

    Parameters
    ----------
    dose : the dose in force. Minutes [min], work [METs], exertion [6 to 20], upper end of the
        heart-rate range [beats/min]; None where not prescribed.
    most : the most a signed plan allows; None when nothing is signed.
    days : days of the course with a visit, in any order; those after ``today`` are refused.
    today : the day on which it is asked.

    Returns
    -------
    At most one of minutes and work raised, or both lowered after two weeks away, with the reasons.
    It is never above ``most`` where it raises; a dose above ``most`` is not raised.

    Raises
    ------
    NotScorable : a day lies after ``today``.

    References
    ----------
    As the module.
    """
    if any(day.on > today for day in days):
        raise NotScorable("A day of the course lies after the day that is asked about.")
    done = sorted((day for day in days if day.exercised), key=lambda day: day.on)
    if not done:
        return _keep(dose, Week.YOUNG, "No session with exercise yet.")
    away = _away(dose, done, today)
    if away:
        return _step_back(dose, away)
    halted = _halts(dose, days, today)
    if halted:
        return _keep(dose, Week.HALTED, *halted)
    if today - dose.from_on < timedelta(days=WEEK_DAYS):
        began = f"This dose began on {in_words(dose.from_on)}: a week of it first."
        return _keep(dose, Week.YOUNG, began)
    week = [day for day in done if _is_this_week(day.on, today)]
    if len(week) < FEWEST_SESSIONS:
        n = f"{len(week)} session" if len(week) == 1 else f"{len(week)} sessions"
        return _keep(dose, Week.FEW, f"{n} in seven days: too few to judge by.")
    unknown = _unknown(dose, week)
    if unknown:
        return _keep(dose, Week.UNKNOWN, *unknown)
    hard = [day for day in week if _is_hard(dose, day)]
    if hard:
        return _too_hard(dose, hard, of=len(week))
    short = [day for day in week if (day.minutes or 0) < SHARE_DONE * dose.minutes]
    if short:
        told = [f"{day.minutes} of {dose.minutes} min on {in_words(day.on)}." for day in short]
        return _keep(dose, Week.SHORT, *told)
    return _raise(dose, most, week)


def _is_this_week(on: date, today: date) -> bool:
    return today - on < timedelta(days=WEEK_DAYS)


def _keep(dose: Dose, week: Week, *reasons: str) -> Proposal:
    return Proposal(Step.KEEP, dose.minutes, dose.mets, reasons, week)


def _away(dose: Dose, done: Sequence[Day], today: date) -> tuple[date, date] | None:
    """The last two weeks or more without exercise, unless a dose was chosen upon them.

    Once for each time away: who stays away another week is not lowered again.
    """
    days = [*(day.on for day in done), today]
    for before, after in reversed(list(pairwise(days))):
        long = before + timedelta(days=AWAY_DAYS)
        if after >= long and dose.from_on < long:
            return before, after
    return None


def _step_back(dose: Dose, away: tuple[date, date]) -> Proposal:
    before, after = away
    n = (after - before).days
    minutes = min(dose.minutes, max(LEAST_MINUTES, floor(dose.minutes * BACK)))
    mets = dose.mets and min(dose.mets, max(LEAST_METS, floor(dose.mets * BACK * 10) / 10))
    why = f"{n} days without exercise after {in_words(before)}: begin again lower."
    return Proposal(Step.BACK, minutes, mets, (why,), Week.AWAY)


def _halts(dose: Dose, days: Sequence[Day], today: date) -> list[str]:
    """What was found this week, or at the last visit: nothing is raised upon it."""
    last = max(day.on for day in days)
    told = [
        day
        for day in sorted(days, key=lambda day: day.on)
        if day.level in HALTS and (_is_this_week(day.on, today) or day.on == last)
    ]
    told.sort(key=lambda day: HALTS.index(day.level))
    return [f"{day.level.capitalize()} on {in_words(day.on)}: {day.finding}" for day in told]


def _unknown(dose: Dose, week: Sequence[Day]) -> list[str]:
    """What nobody wrote down is not taken for easy."""
    told = []
    for day in week:
        lacks = ["minutes"] if day.minutes is None else []
        lacks += ["exertion"] if day.rpe is None else []
        lacks += ["heart rate"] if dose.high_bpm and day.heart_rate_bpm is None else []
        if lacks:
            told.append(f"No {' and no '.join(lacks)} recorded on {in_words(day.on)}.")
    return told


def _is_hard(dose: Dose, day: Day) -> bool:
    beats = dose.high_bpm is not None and (day.heart_rate_bpm or 0) > dose.high_bpm
    return beats or (day.rpe or 0) > dose.rpe_high


def _too_hard(dose: Dose, hard: Sequence[Day], *, of: int) -> Proposal:
    """Harder than prescribed: once is watched, at every session it is lowered."""
    told = []
    for day in hard:
        seen = [f"RPE {day.rpe}"] if (day.rpe or 0) > dose.rpe_high else []
        if dose.high_bpm is not None and (day.heart_rate_bpm or 0) > dose.high_bpm:
            seen.append(f"heart rate {day.heart_rate_bpm}")
        told.append(f"Above the range on {in_words(day.on)}: {', '.join(seen)}.")
    if len(hard) < of:
        return _keep(dose, Week.HARD, *told)
    if dose.mets is not None:
        mets = min(dose.mets, max(LEAST_METS, floor(dose.mets * EASIER * 10) / 10))
        return Proposal(Step.BACK, dose.minutes, mets, tuple(told), Week.HARD)
    minutes = min(dose.minutes, max(LEAST_MINUTES, floor(dose.minutes * BACK)))
    return Proposal(Step.BACK, minutes, None, tuple(told), Week.HARD)


def _raise(dose: Dose, most: Most | None, week: Sequence[Day]) -> Proposal:
    well = f"{len(week)} sessions in seven days, all of the minutes, within the range."
    if most is None:
        return _keep(dose, Week.WELL, well, UNSIGNED)
    longer = _longer(dose.minutes, most.minutes)
    if longer > dose.minutes:
        why = f"Longer before harder: {longer} instead of {dose.minutes} min."
        return Proposal(Step.LONGER, longer, dose.mets, (well, why), Week.WELL)
    if any((day.rpe or 0) > dose.rpe_low for day in week):
        return _keep(dose, Week.WELL, well, "The effort is as prescribed.")
    easy = f"RPE {dose.rpe_low} or less each time."
    if dose.mets is None:
        return _keep(dose, Week.WELL, well, easy, "No work is prescribed that could be raised.")
    harder = _harder(dose.mets, most.mets)
    if harder > dose.mets:
        why = f"All of the signed minutes: {harder:g} instead of {dose.mets:g} METs."
        return Proposal(Step.HARDER, dose.minutes, harder, (well, easy, why), Week.WELL)
    return _keep(dose, Week.WELL, well, easy, SIGNATURE)


def _longer(minutes: int, most: int) -> int:
    step = min(MOST_MINUTES_MORE, max(1, round(minutes * MORE_MINUTES)))
    return min(minutes + step, most)


def _harder(mets: float, most: float | None) -> float:
    """Five per cent, up to the next tenth; as it is where no work was signed."""
    return mets if most is None else min(ceil(round(mets * HARDER * 10, 6)) / 10, most)
