"""Resistance in the demo: some of those after a stent lift from the fourth week, and with ease."""

from datetime import date, timedelta

from config.demo.story import Character
from programs.attendance.calc.effort import Load
from programs.prescription.calc.lifts import Lift, stored
from programs.prescription.models import Prescription

LIFTS = (Lift("Leg press", 10, 40.0), Lift("Seated row", 10, 15.0))
FROM_WEEK = 3
SETS, DAYS = 2, 2


def _lifts(person: Character) -> bool:
    return person.kind == "pci" and person.number % 2 == 0


def prescribe(draft: Prescription, person: Character) -> None:
    """Light resistance, up to moderate, beside minutes that are not to be raised."""
    if not _lifts(person):
        return
    draft.most_minutes = draft.minutes
    draft.strength, draft.most_strength = "light", "moderate"
    draft.strength_from = draft.valid_from + timedelta(weeks=FROM_WEEK)
    draft.strength_sets, draft.strength_days = SETS, DAYS
    draft.lifts = stored(LIFTS)


def has_begun(starts_on: date, on: date) -> bool:
    """Whether the weeks before the first lift are over."""
    return on >= starts_on + timedelta(weeks=FROM_WEEK)


def lifted(person: Character, n: int) -> list[Load]:
    """What is lifted in the n-th session: as prescribed, so that a step is proposed."""
    if not _lifts(person) or n <= FROM_WEEK * person.per_week:
        return []
    return [
        Load(
            "strength",
            exercise=lift.exercise,
            sets=SETS,
            repetitions=lift.repetitions,
            load_kg=lift.kg,
            in_reserve=5,
            rpe=12,
        )
        for lift in LIFTS
    ]
