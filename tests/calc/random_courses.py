"""Twelve weeks of a made-up person, good days and bad, and what was proposed on each Monday."""

import random
from dataclasses import dataclass
from datetime import date, timedelta

from programs.review.calc.progression import Day, Dose, Most, Proposal, propose

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
    days: list[Day] = []
    asked = []
    for n in range(7 * WEEKS):
        today = STARTS_ON + timedelta(days=n)
        is_ill = ill_from is not None and ill_from <= n < ill_from + ill_days
        if today.weekday() in {0, 2, 4} and not is_ill and chance.random() > 0.15:
            twice = chance.random() < 0.05  # two sessions on one day
            days += [_day(chance, dose, today, luck) for _ in range(1 + twice)]
        if today.weekday() == 0 and n:
            got = propose(dose, most, days, today)
            asked.append(Asked(today, dose, most, tuple(days), got))
            if got.changes and chance.random() < 0.9:
                dose = dose._replace(from_on=today, minutes=got.minutes, mets=got.mets)
        if chance.random() < 0.01:
            most = _signed(chance, dose)
    return asked


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
