"""The next step of resistance: more repetitions, then more load, by repetitions left in reserve.

A load is raised by about 5 per cent once the repetitions are easy: from memory of the ACSM
guidelines. Repetitions in reserve beside perceived exertion: M. C. Zourdos et al., J. Strength
Cond. Res., 2016, doi:10.1519/JSC.0000000000001049 (from memory: 4 to 6 left are moderate, 0 or 1
near the most). How many are easy or too few, the steps of repetitions and who has the turn are
project choices. Loads of a stage: ``programs/prescription/calc/strength.py``.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import IntEnum
from itertools import groupby
from math import ceil, floor
from typing import NamedTuple

from patients.calc.days import in_words
from programs.prescription.calc.lifts import Lift, key_of
from programs.prescription.calc.strength import BY_KEY, ORDER, STAGES, Stage
from programs.review.calc.progression import FEWEST_SESSIONS, SIGNATURE, UNSIGNED, WEEK_DAYS

EASY_RESERVE = 4  # repetitions that could still have been done, in every set
HARD_RESERVE = 2  # fewer left are too hard
MORE_REPETITIONS = 2
HEAVIER, LIGHTER = 1.05, 0.9
PLATE_KG = 0.5  # loads are rounded to it
FAMILIARISE = STAGES[0]  # its load stays: what follows it is the next stage


class Lifted(NamedTuple):
    """Sets of one exercise on a day; None was not written down."""

    on: date
    exercise: str
    repetitions: int | None = None
    kg: float | None = None
    in_reserve: int | None = None
    rpe: int | None = None


class Training(NamedTuple):
    """Resistance as prescribed, the heaviest stage a signed plan allows ("" for none), and the
    precautions that nobody has lifted."""

    stage: str
    most: str
    lifts: tuple[Lift, ...] = ()
    precautions: tuple[str, ...] = ()


class Turn(IntEnum):
    LESS = -1
    SAME = 0
    MORE = 1


@dataclass(frozen=True)
class Lifting:
    """What to do with the lifts, and why."""

    turn: Turn
    stage: str
    lifts: tuple[Lift, ...]
    reasons: tuple[str, ...]


class _Judged(NamedTuple):
    lift: Lift
    turn: Turn
    reason: str
    is_at_top: bool = False


def propose_lifts(
    training: Training, done: Sequence[Lifted], maxima: Mapping[str, float], today: date
) -> Lifting:
    """The next step of the lifts of somebody whose resistance is prescribed.

    Parameters
    ----------
    training : the stage in force and its lifts, with the most that is signed.
    done : sets of the course. Repetitions and those in reserve [times], load [kg], exertion
        [6 to 20]
    maxima : tested one-repetition maximum by exercise, as ``key_of``. [kg]
    today : the day on which it is asked.

    Returns
    -------
    Repetitions up to the stage's most, then load by about 5 %, one of them a lift, each never above
    the stage's share of a tested maximum, nothing under a precaution in force; less where a set was
    too hard at each session. Whatever is lowered, nothing is raised beside it. After
    familiarisation, the next stage if it is signed.

    References
    ----------
    As the module.
    """
    stage = BY_KEY[training.stage]
    lifts = {key_of(lift.exercise): lift for lift in training.lifts}
    week = [one for one in done if timedelta() <= today - one.on < timedelta(days=WEEK_DAYS)]
    week.sort(key=lambda one: (key_of(one.exercise), one.on))
    judged = {
        key: _judge(stage, lifts.get(key), list(sets), maxima.get(key))
        for key, sets in groupby(week, key=lambda one: key_of(one.exercise))
    }
    same = Lifting(
        Turn.SAME, stage.key, training.lifts, tuple(one.reason for one in judged.values())
    )
    lower = {key: one for key, one in judged.items() if one.turn == Turn.LESS}
    if lower:
        return _turned(same, Turn.LESS, judged, lower)
    if ORDER[stage.key] > ORDER[training.most]:
        return replace(same, reasons=(UNSIGNED,)) if judged else same
    if training.precautions:
        told = [f"No lift is raised under a precaution: {words}." for words in training.precautions]
        return replace(same, reasons=tuple(told)) if judged else same
    higher = {key: one for key, one in judged.items() if one.turn == Turn.MORE}
    if higher:
        return _turned(same, Turn.MORE, judged, higher)
    if stage is FAMILIARISE and judged and all(one.is_at_top for one in judged.values()):
        return _next_stage(same, training, judged)
    return same


def _turned(
    same: Lifting, turn: Turn, judged: Mapping[str, _Judged], changed: Mapping[str, _Judged]
) -> Lifting:
    """The lifts with those that change; others of the week are kept as they were done."""
    lifts = {key_of(lift.exercise): lift for lift in same.lifts}
    for key, one in judged.items():
        if key in changed:
            lifts[key] = one.lift
        elif one.turn == Turn.SAME:
            lifts.setdefault(key, one.lift)
    whole = tuple(lift for lift in lifts.values() if lift.repetitions)
    return Lifting(turn, same.stage, whole, tuple(one.reason for one in changed.values()))


def _next_stage(same: Lifting, training: Training, judged: Mapping[str, _Judged]) -> Lifting:
    after = STAGES[STAGES.index(FAMILIARISE) + 1]
    if ORDER[after.key] > ORDER[training.most]:
        return replace(same, reasons=(f"Resistance: {SIGNATURE}",))
    why = f"{FAMILIARISE.repetitions[1]} repetitions easy in every exercise: {after.name} next."
    moved = _turned(same, Turn.MORE, judged, judged)
    return replace(moved, stage=after.key, reasons=(why,))


def _judge(stage: Stage, lift: Lift | None, sets: list[Lifted], maximum: float | None) -> _Judged:
    """One exercise in a week: easy in every set, too hard at every session, or as it should be."""
    last = [one for one in sets if one.on == sets[-1].on]
    name = lift.exercise if lift else sets[-1].exercise
    fewest = min((one.repetitions for one in last if one.repetitions), default=0)
    lightest = min((one.kg for one in last if one.kg is not None), default=None)
    most_kg = None if maximum is None else plate(maximum * stage.percent[1] / 100, floor)
    stands = lift or _within(stage, most_kg, Lift(name, fewest, lightest))
    days = {one.on for one in sets}

    def same(why: str) -> _Judged:
        return _Judged(stands, Turn.SAME, f"{name}: {why}")

    if len(days) < FEWEST_SESSIONS:
        return same("1 session in seven days.")
    lacks = _lacking(sets)
    if lacks:
        return same(lacks)
    hard = {one.on for one in sets if _is_hard(stage, one)}
    if hard == days:
        return _less(stands)
    if hard:
        return same(f"too hard on {', '.join(in_words(on) for on in sorted(hard))}.")
    if any((one.in_reserve or 0) < EASY_RESERVE for one in sets):
        return same("the effort is as prescribed.")
    if fewest < stands.repetitions or (stands.kg or 0) > (lightest or 0):
        return same(f"less than prescribed on {in_words(sets[-1].on)}.")
    return _more(stage, most_kg, stands)


def _lacking(sets: Sequence[Lifted]) -> str:
    """What nobody wrote down is not taken for easy."""
    for one in sets:
        lacks = ["repetitions"] if one.repetitions is None else []
        lacks += ["repetitions in reserve"] if one.in_reserve is None else []
        if lacks:
            return f"no {' and no '.join(lacks)} recorded on {in_words(one.on)}."
    return ""


def _less(lift: Lift) -> _Judged:
    """A lighter load; where there is none to take off, fewer repetitions."""
    lower = lift._replace(repetitions=max(1, lift.repetitions - MORE_REPETITIONS))
    if lift.kg and lift.kg > PLATE_KG:
        lower = lift._replace(kg=plate(lift.kg * LIGHTER, floor))
    if lower == lift:
        words = f"{lift.exercise}: too hard, and nothing lighter: another exercise."
        return _Judged(lift, Turn.SAME, words)
    return _Judged(lower, Turn.LESS, f"{lift.exercise}: too hard at each session.")


def _is_hard(stage: Stage, one: Lifted) -> bool:
    too_few_left = one.in_reserve is not None and one.in_reserve < HARD_RESERVE
    return too_few_left or (one.rpe or 0) > stage.highest_rpe


def _within(stage: Stage, most_kg: float | None, lift: Lift) -> Lift:
    """A lift as far as the stage goes."""
    kg = lift.kg if lift.kg is None or most_kg is None else min(lift.kg, most_kg)
    return lift._replace(repetitions=min(lift.repetitions, stage.repetitions[1]), kg=kg)


def _more(stage: Stage, most_kg: float | None, lift: Lift) -> _Judged:
    easy = f"{lift.exercise}: {EASY_RESERVE} or more in reserve in every set"
    most = stage.repetitions[1]
    if lift.repetitions < most:
        more = lift._replace(repetitions=min(most, lift.repetitions + MORE_REPETITIONS))
        return _Judged(more, Turn.MORE, f"{easy}; repetitions before load.")
    if stage is FAMILIARISE:
        return _Judged(lift, Turn.SAME, f"{easy}.", is_at_top=True)
    if not lift.kg:
        return _Judged(lift, Turn.SAME, f"{easy}; no load is recorded that could be raised.")
    heavier = _within(stage, most_kg, lift._replace(kg=plate(lift.kg * HEAVIER, ceil)))
    if (heavier.kg or 0) <= lift.kg:
        share = f"{stage.percent[1]} % of the tested maximum is the most of this stage"
        return _Judged(lift, Turn.SAME, f"{easy}; {share}.")
    return _Judged(heavier, Turn.MORE, f"{easy}, {most} repetitions: about 5 % heavier.")


def plate(kg: float, to: Callable[[float], int]) -> float:
    """A load rounded up or down to a plate.

    Parameters
    ----------
    kg : the load. [kg], above 0
    to : ``ceil`` or ``floor``.

    Returns
    -------
    A whole number of plates of ``PLATE_KG``, at least one. [kg]

    References
    ----------
    project choice
    """
    return max(1, to(round(kg / PLATE_KG, 6))) * PLATE_KG
