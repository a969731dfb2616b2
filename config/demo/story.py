"""Who the invented people are: decided from a seed, dated relative to a day. No database here.

Shares follow published figures so that the demo's reports look like a real program's: about one
starter in four reaches 36 sessions, mean 25 (SD 12) sessions (Keteyian 2022), about a quarter
start within 21 days and the mean delay is five to six weeks (Ritchey 2020; Johnson 2014),
PHQ-9 of 5 or more in 32 % and of 10 or more in 9 % at entry (University of Vermont group).
"""

import random
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

KINDS = [
    ("pci", 38, "Z95.5"),
    ("mi", 22, "I21.4"),
    ("cabg", 17, "Z95.1"),
    ("valve", 9, "Z95.2"),
    ("heart_failure", 8, "I50.22"),
    ("stable_angina", 4, "I20.89"),
    ("transplant", 2, "Z94.1"),
]
LEFT_BECAUSE = ["choice", "work", "transport", "medical", "readmission", "cost", "lost", "moved"]
WAITING, NOT_ENROLLING, BOOKED, PAUSED, PAST = 17, 9, 3, 3, 68
ACTIVE_A_WEEK = 3  # people in each of the twelve weeks


@dataclass
class Character:
    """One invented person and what becomes of them."""

    number: int
    role: str  # waiting, not_enrolling, booked, active, paused, past
    sex: str
    given: str
    family: str
    born_on: date
    site: str
    kind: str
    icd10: str
    event_on: date
    discharged_on: date | None
    referred_on: date
    starts_on: date | None = None
    n_sessions: int = 36  # attended in the end, or so far for people still in the program
    outcome: str = ""
    per_week: int = 3
    has_beta_blocker: bool = True
    has_insulin: bool = False
    has_icd: bool = False
    height_cm: int = 170
    weight_kg: float = 80.0
    systolic: int = 134
    walk_m: int = 395
    phq9: int = 2
    has_exit: bool = True
    wants_talk: bool = False  # answered item 9 above zero
    extra: dict[str, Any] = field(default_factory=dict)


def cast(clinic: dict[str, Any], today: date, seed: int) -> list[Character]:
    """Everybody in the demo, in a fixed order."""
    rng = random.Random(seed)
    names = _names(clinic, rng)
    people: list[Character] = []

    def add(role: str, starts_on: date | None, **more: Any) -> None:
        number = len(people) + 1
        people.append(_person(number, role, next(names), starts_on, today, rng, **more))

    for i in range(WAITING):
        add(
            "waiting",
            None,
            waited=[2, 4, 5, 7, 8, 10, 12, 13, 15, 17, 19, 20, 23, 26, 29, 34, 41][i],
        )
    for i in range(NOT_ENROLLING):
        add("not_enrolling", None, waited=30 + 25 * i)
    for i in range(BOOKED):
        add("booked", today + timedelta(days=3 + i))
    for week in range(1, 13):
        for _ in range(ACTIVE_A_WEEK):
            add("active", today - timedelta(days=7 * (week - 1) + rng.randint(0, 4)))
    for i in range(PAUSED):
        add("paused", today - timedelta(days=35 + 9 * i))
    for i in range(PAST):
        add("past", today - timedelta(days=95 + round(i * 330 / PAST)))
    _outcomes([p for p in people if p.role == "past"], rng)
    return people


def _names(clinic: dict[str, Any], rng: random.Random):
    pairs = [
        (sex, given, family)
        for sex, key in [("female", "given_female"), ("male", "given_male")]
        for given in clinic[key]
        for family in clinic["family"]
    ]
    rng.shuffle(pairs)
    women = [p for p in pairs if p[0] == "female"]
    men = [p for p in pairs if p[0] == "male"]
    while True:  # women take part less often than men (Ritchey 2020)
        yield women.pop() if rng.random() < 0.36 else men.pop()


def _person(
    number: int,
    role: str,
    name: tuple[str, str, str],
    starts_on: date | None,
    today: date,
    rng: random.Random,
    waited: int = 0,
) -> Character:
    sex, given, family = name
    kind, _, icd10 = rng.choices(KINDS, weights=[k[1] for k in KINDS])[0]
    age = min(88, max(38, round(rng.gauss(65, 10))))
    # Delay from discharge to start: a quarter within 21 days, mean about 35.
    delay = rng.randint(11, 21) if rng.random() < 0.25 else rng.randint(24, 58)
    discharged = (starts_on or today) - timedelta(days=delay if starts_on else waited)
    event = discharged - timedelta(days=rng.randint(1, 7))
    if kind == "heart_failure":  # the rule wants six quiet weeks (NCD 20.10.1)
        event, discharged = event - timedelta(days=60), discharged - timedelta(days=60)
    born = date(today.year - age, rng.randint(1, 12), rng.randint(1, 28))
    phq = rng.choices([rng.randint(0, 4), rng.randint(5, 9), rng.randint(10, 16)], [68, 23, 9])[0]
    woman = sex == "female"
    return Character(
        number=number,
        role=role,
        sex=sex,
        given=given,
        family=family,
        born_on=born,
        site="QH" if rng.random() < 0.38 else "SL",
        kind=kind,
        icd10=icd10,
        event_on=event,
        discharged_on=None if number % 13 == 0 else discharged,
        referred_on=min(today, discharged + timedelta(days=rng.randint(0, 3))),
        starts_on=starts_on,
        per_week=2 if rng.random() < 0.1 else 3,
        has_beta_blocker=rng.random() < 0.72,
        has_insulin=rng.random() < 0.12,
        has_icd=kind == "heart_failure" and rng.random() < 0.5,
        height_cm=round(rng.gauss(163 if woman else 176, 6)),
        weight_kg=round(rng.gauss(76 if woman else 88, 12), 1),
        systolic=round(rng.gauss(134, 11)),
        walk_m=min(560, max(190, round(rng.gauss(405 if woman else 430, 75) - (age - 65) * 3))),
        phq9=phq,
        wants_talk=number in {44, 90},
    )


def _outcomes(past: list[Character], rng: random.Random) -> None:
    """A quarter reach 36, some leave content a little earlier, the rest drift away."""
    order = past[:]
    rng.shuffle(order)
    full = round(len(order) * 0.27)
    for i, person in enumerate(order):
        if i < full:
            person.n_sessions, person.outcome, person.per_week = 36, "completed", 3
            continue
        person.n_sessions = min(round(rng.triangular(1, 35, 28)), 12 * person.per_week)
        content = person.n_sessions >= 27 and rng.random() < 0.75
        person.outcome = "completed" if content else rng.choice(LEFT_BECAUSE)
        person.has_exit = content or rng.random() < 0.2
