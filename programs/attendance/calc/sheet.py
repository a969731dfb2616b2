"""One visit as typed: vital signs, answers, bouts, rhythm; and what the rules may read of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time
from operator import itemgetter

from programs.attendance.calc.effort import BoutEntry, cost_of
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import ASKED_AFTER, ASKED_BEFORE, SEEN_DURING, Answers
from programs.attendance.calc.readings import Effort, Readings, Signs
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
    dyspnoea: int | None = None
    glucose_is_mmoll: bool = False  # what the meter showed

    @property
    def is_empty(self) -> bool:
        given = {k: v for k, v in vars(self).items() if k != "glucose_is_mmoll"}
        return all(value is None for value in given.values())

    @property
    def pressure(self) -> str:
        return "" if self.systolic_mmhg is None else f"{self.systolic_mmhg}/{self.diastolic_mmhg}"

    @property
    def glucose(self) -> Glucose | None:
        if self.glucose_mgdl is None:
            return None
        return Glucose(self.glucose_mgdl, is_mmoll=self.glucose_is_mmoll)

    @property
    def signs(self) -> Signs:
        return Signs(
            self.heart_rate_bpm,
            self.systolic_mmhg,
            self.diastolic_mmhg,
            self.spo2_percent,
            self.glucose,
            self.angina,
        )


@dataclass(frozen=True)
class Sheet:
    before: Vitals = field(default_factory=Vitals)
    after: Vitals = field(default_factory=Vitals)
    recovery: Vitals = field(default_factory=Vitals)
    bouts: tuple[BoutEntry, ...] = ()
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
    rechecks: tuple[tuple[datetime, Glucose], ...] = ()  # glucose since exercise began, with times

    @property
    def latest_glucose(self) -> Glucose | None:
        """By the clock since exercise began, else the last one before it."""
        if self.rechecks:
            return max(self.rechecks, key=itemgetter(0))[1]
        return self.before.glucose

    @property
    def done(self) -> list[BoutEntry]:
        return [bout for bout in self.bouts if bout.is_done]


def merged_answers(stored: Answers, sheet: Sheet) -> dict[str, bool]:
    """What is on record, with what the form asked about in its place."""
    shown = sheet.asked
    if shown is None:
        shown = frozenset(q.id for q in ASKED_BEFORE)
        if sheet.has_exercise_part:
            shown |= {q.id for q in (*SEEN_DURING, *ASKED_AFTER)}
    return {k: v for k, v in stored.items() if k not in shown} | dict(sheet.answers)


@dataclass(frozen=True)
class Background:
    """What the records say about the person that the rules need."""

    uses_insulin: bool = False
    has_beta_blocker: bool = False
    has_heart_failure: bool = False
    nyha: int | None = None
    has_pacemaker: bool = False
    has_icd: bool = False
    weights_last_3_days_kg: tuple[float, ...] = ()
    last_weight_kg: float | None = None  # for workloads, when none was taken today
    other_glucose_24h: tuple[Glucose, ...] = ()  # of this visit's other readings and earlier ones
    needed_help_24h: bool = False  # at an earlier visit
    days_since_event: int | None = None
    days_since_mi: int | None = None
    entry_answers: Mapping[str, bool] | None = None
    entry_says_start: bool | None = None
    was_interrupted: bool = False
    upper_limit_bpm: int | None = None


def readings_of(
    sheet: Sheet, background: Background, *, has_exercised: bool, is_over: bool = False
) -> Readings:
    """The facts the rules read, from what was typed and what is on record."""
    before, record = sheet.before, background
    weight = before.weight_kg if before.weight_kg is not None else record.last_weight_kg
    return Readings(
        heart_rate_bpm=before.heart_rate_bpm,
        systolic_mmhg=before.systolic_mmhg,
        diastolic_mmhg=before.diastolic_mmhg,
        standing_systolic_mmhg=before.standing_systolic_mmhg,
        spo2_percent=before.spo2_percent,
        temperature_c=before.temperature_c,
        glucose=before.glucose,
        lowest_glucose_24h=_lowest(sheet, record),
        needed_help_24h=record.needed_help_24h,
        ketones=sheet.ketones,
        weight_kg=before.weight_kg,
        weights_last_3_days_kg=record.weights_last_3_days_kg,
        answers=sheet.answers,
        has_heart_failure=record.has_heart_failure,
        nyha=record.nyha,
        uses_insulin=record.uses_insulin,
        has_beta_blocker=record.has_beta_blocker,
        has_pacemaker=record.has_pacemaker,
        has_icd=record.has_icd,
        days_since_event=record.days_since_event,
        days_since_mi=record.days_since_mi,
        entry_answers=record.entry_answers,
        entry_says_start=record.entry_says_start,
        was_interrupted=record.was_interrupted,
        upper_limit_bpm=record.upper_limit_bpm,
        has_exercised=has_exercised,
        has_ecg=sheet.has_ecg,
        minutes_exercised=sum(b.minutes or 0 for b in sheet.done),
        efforts=efforts_of(sheet.bouts, weight),
        rhythm=sheet.rhythm,
        is_over=is_over,
        after=sheet.after.signs,
        recovery=sheet.recovery.signs,
        latest_recheck=max(sheet.rechecks, key=itemgetter(0))[1] if sheet.rechecks else None,
    )


def _lowest(sheet: Sheet, record: Background) -> Glucose | None:
    typed = [v.glucose for v in (sheet.before, sheet.after, sheet.recovery)]
    known = [g for g in (*typed, *record.other_glucose_24h) if g is not None]
    return min(known, default=None)


def efforts_of(bouts: Sequence[BoutEntry], weight_kg: float | None) -> tuple[Effort, ...]:
    efforts = []
    for place, bout in enumerate(bouts, start=1):
        measured = (bout.systolic_mmhg, bout.heart_rate_bpm, bout.spo2_percent, bout.angina,
                    bout.dyspnoea)  # fmt: skip
        if any(value is not None for value in measured):
            cost = cost_of(bout, weight_kg)
            efforts.append(
                Effort(
                    bout.systolic_mmhg,
                    cost.mets if cost else None,
                    bout.diastolic_mmhg,
                    bout.heart_rate_bpm,
                    bout.spo2_percent,
                    bout.angina,
                    bout.dyspnoea,
                    place,
                )
            )
    return tuple(efforts)
