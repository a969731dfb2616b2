"""One visit as typed: vital signs, answers, bouts, rhythm.

What replaces what, and which glucose is the latest, is a project choice.
"""

from dataclasses import dataclass, field
from datetime import datetime, time
from operator import itemgetter

from programs.attendance.calc.effort import Load
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import ASKED_AFTER, ASKED_BEFORE, SEEN_DURING, Answers
from programs.attendance.calc.rhythm import Rhythm


@dataclass(frozen=True)
class Vitals:
    """Readings of one moment, in the units they are stored in."""

    heart_rate_bpm: int | None = None
    systolic_mmhg: int | None = None
    diastolic_mmhg: int | None = None
    spo2_percent: int | None = None
    glucose_mgdl: float | None = None
    weight_kg: float | None = None
    standing_systolic_mmhg: int | None = None
    standing_diastolic_mmhg: int | None = None
    temperature_c: float | None = None
    rpe: int | None = None
    angina: int | None = None
    glucose_is_mmoll: bool = False  # what the meter showed

    @property
    def is_empty(self) -> bool:
        """Whether nothing was measured at this moment."""
        given = {k: v for k, v in vars(self).items() if k != "glucose_is_mmoll"}
        return all(value is None for value in given.values())

    @property
    def pressure(self) -> str:
        """Seated blood pressure as written, such as "120/80" [mmHg]; empty when not measured."""
        return "" if self.systolic_mmhg is None else f"{self.systolic_mmhg}/{self.diastolic_mmhg}"

    @property
    def glucose(self) -> Glucose | None:
        """Glucose with the unit its meter showed [mg/dL]; None when not measured."""
        if self.glucose_mgdl is None:
            return None
        return Glucose(self.glucose_mgdl, is_mmoll=self.glucose_is_mmoll)


# Values that are taken together: the first of a group says whether it was taken.
TOGETHER = (
    ("systolic_mmhg", "diastolic_mmhg"),
    ("standing_systolic_mmhg", "standing_diastolic_mmhg"),
    ("glucose_mgdl", "glucose_is_mmoll"),
)
_PAIRED = {name for group in TOGETHER for name in group}
GROUPS = (*TOGETHER, *[(name,) for name in Vitals.__dataclass_fields__ if name not in _PAIRED])
# What a refusal calls them.
IN_WORDS = {
    "systolic_mmhg": "blood pressure",
    "standing_systolic_mmhg": "standing pressure",
    "glucose_mgdl": "glucose",
    "heart_rate_bpm": "heart rate",
    "spo2_percent": "oxygen saturation",
    "weight_kg": "weight",
    "temperature_c": "temperature",
    "rpe": "RPE",
    "angina": "angina grade",
}


@dataclass(frozen=True)
class Sheet:
    before: Vitals = field(default_factory=Vitals)
    after: Vitals = field(default_factory=Vitals)
    recovery: Vitals = field(default_factory=Vitals)
    bouts: tuple[Load, ...] = ()
    rhythm: Rhythm = field(default_factory=Rhythm)
    minutes: int | None = None
    answers: Answers = field(default_factory=dict)
    symptoms: str = ""
    ketones: str = ""
    last_meal_at: time | None = None
    last_dose_at: time | None = None
    left_early: str = ""
    note: str = ""
    has_ecg: bool | None = None
    has_exercise_part: bool = True  # False when only "before" was on the form
    asked: frozenset[str] | None = None  # the questions on the form; None: all of them
    rechecks: tuple[tuple[datetime, Glucose], ...] = ()  # glucose since exercise began, in order
    during: Vitals = field(default_factory=Vitals)  # glucose; the rest belongs to bouts

    @property
    def latest_glucose(self) -> Glucose | None:
        """By the clock since exercise began, else the last one before it."""
        return self.latest_recheck or self.before.glucose

    @property
    def latest_recheck(self) -> Glucose | None:
        """By the clock, since exercise began; of two typed together the later moment's."""
        return max(reversed(self.rechecks), key=itemgetter(0))[1] if self.rechecks else None

    @property
    def done(self) -> list[Load]:
        """The bouts that were done, in order; a planned workload alone is none."""
        return [bout for bout in self.bouts if bout.is_done]


def merged_answers(stored: Answers, sheet: Sheet) -> dict[str, bool]:
    """Answers on record, with what the form asked about in their place.

    Parameters
    ----------
    stored : answer by id of its question, as on record.
    sheet : the visit as typed; ``asked`` None means every question of its parts.

    Returns
    -------
    Answer by id of its question. One that was asked and left open is taken off the record.
    """
    shown = sheet.asked
    if shown is None:
        shown = frozenset(q.id for q in ASKED_BEFORE)
        if sheet.has_exercise_part:
            shown |= {q.id for q in (*SEEN_DURING, *ASKED_AFTER)}
    return {k: v for k, v in stored.items() if k not in shown} | dict(sheet.answers)
