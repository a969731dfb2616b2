"""Twelve weeks of a made-up person, good days and bad, and what was proposed on each Monday."""

import random
from dataclasses import dataclass
from datetime import date, timedelta

from programs.prescription.calc.lifts import Lift, key_of
from programs.prescription.calc.strength import BY_KEY, STAGES
from programs.review.calc.lifting import Lifted, Training
from programs.review.calc.next_step import RAISES, next_step
from programs.review.calc.progression import Day, Dose, Most, Proposal, Step

STARTS_ON = date(2026, 1, 5)  # a Monday
WEEKS = 12


@dataclass(frozen=True)
class Asked:
    """One Monday: what was known, and what came of it."""

    on: date
    dose: Dose
    most: Most | None
    days: tuple[Day, ...]
    got: Proposal
    training: Training | None
    sets: tuple[Lifted, ...]
    maxima: dict[str, float]


def course(seed: int) -> list[Asked]:
    """A course of one seed; what is proposed is mostly accepted and sometimes left."""
    chance = random.Random(seed)
    dose = Dose(
        STARTS_ON,
        chance.randint(5, 40),
        chance.choice([None, round(chance.uniform(1.5, 6), 1)]),
        rpe_low := chance.randint(9, 13),
        rpe_low + chance.randint(0, 3),
        chance.choice([None, chance.randint(90, 150)]),
    )
    most = _signed(chance, dose)
    luck = chance.random()  # how often a day goes wrong
    ill_from = chance.choice([None, chance.randint(5, 70)])
    ill_days = chance.randint(5, 30)
    lifting = random.Random(f"lifts {seed}")
    training, maxima = _training(lifting)
    sets: list[Lifted] = []
    raised_last: Step | None = None
    days: list[Day] = []
    asked = []
    for n in range(7 * WEEKS):
        today = STARTS_ON + timedelta(days=n)
        is_ill = ill_from is not None and ill_from <= n < ill_from + ill_days
        if today.weekday() in {0, 2, 4} and not is_ill and chance.random() > 0.15:
            twice = chance.random() < 0.05  # two sessions on one day
            days += [_day(chance, dose, today, luck) for _ in range(1 + twice)]
            sets += _sets(lifting, training, today, luck)
        if today.weekday() == 0 and n:
            got = next_step(
                dose,
                most,
                days,
                today,
                training=training,
                sets=sets,
                maxima=maxima,
                raised_last=raised_last,
            )
            known = (training, tuple(sets), maxima)
            asked.append(Asked(today, dose, most, tuple(days), got, *known))
            if got.changes and chance.random() < 0.9:
                dose = dose._replace(from_on=today, minutes=got.minutes, mets=got.mets)
                raised_last = got.step if got.step in RAISES else raised_last
                if training is not None:
                    training = training._replace(stage=got.strength, lifts=got.lifts)
        if chance.random() < 0.01:
            most = _signed(chance, dose)
    return asked


def _training(chance: random.Random) -> tuple[Training | None, dict[str, float]]:
    """Sometimes none, sometimes more than was signed; a tested maximum for some exercises."""
    names = ["leg press", "Row", "Heel raise"]
    stage = chance.choice(["", *[one.key for one in STAGES]])
    if not stage:
        return None, {}
    top = BY_KEY[stage].repetitions[1]
    lifts = [
        Lift(name, chance.randint(4, top), chance.choice([None, 2.0, 20.0, 60.0]))
        for name in chance.sample(names, chance.randint(0, 3))
    ]
    maxima = {key_of(name): chance.uniform(30, 150) for name in names if chance.random() < 0.4}
    return Training(stage, chance.choice(["", *[one.key for one in STAGES]]), tuple(lifts)), maxima


def _sets(chance: random.Random, training: Training | None, on: date, luck: float) -> list[Lifted]:
    """Each lift as prescribed or not, easy or hard; now and then an exercise nobody prescribed."""
    if training is None:
        return []
    lifts = [*training.lifts] + [Lift("Step up", 12, 5.0)] * (chance.random() < 0.3)
    hard = 1 if luck > 0.5 else 3  # left in reserve where it was hard
    return [
        Lifted(
            on,
            lift.exercise.upper() if chance.random() < 0.2 else lift.exercise,
            lift.repetitions + (3 if chance.random() < 0.1 else 0),
            lift.kg,
            None if chance.random() < luck * 0.1 else chance.choice([5, 5, 6, 8, hard]),
            chance.choice([None, 10, 11, 12 + 4 * (chance.random() < luck * 0.3)]),
        )
        for lift in lifts
        if chance.random() < 0.9
    ]


def _signed(chance: random.Random, dose: Dose) -> Most | None:
    """Sometimes nothing, sometimes less than what is in force."""
    if chance.random() < 0.1:
        return None
    work = None if chance.random() < 0.2 else round((dose.mets or 3) * chance.uniform(0.8, 2), 1)
    return Most(max(1, round(dose.minutes * chance.uniform(0.8, 2.5))), work)


def _day(chance: random.Random, dose: Dose, on: date, luck: float) -> Day:
    bad = chance.random() < luck * 0.3
    level = chance.choice(["note", "caution", "hold", "stop"]) if bad else ""
    if level == "hold":
        return Day(on, exercised=False, level=level, finding="something")
    is_known = chance.random() > luck * 0.2
    high = dose.high_bpm or 110
    return Day(
        on,
        minutes=round(dose.minutes * chance.choice([1, 1, 1, 0.95, 0.6])) if is_known else None,
        rpe=chance.randint(dose.rpe_low - 2, dose.rpe_high + (chance.random() < luck * 0.4)),
        heart_rate_bpm=chance.randint(high - 30, high + (5 if chance.random() < luck * 0.4 else 0))
        if is_known
        else None,
        level=level,
        finding="something" if level else "",
    )
