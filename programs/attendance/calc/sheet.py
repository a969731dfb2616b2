"""One visit as typed: vital signs, bouts, rhythm; what it costs and what the rules may read."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from programs.attendance.calc.readings import Effort, Readings
from programs.prescription.calc import workload


@dataclass(frozen=True)
class Vitals:
    heart_rate_bpm: int | None = None
    systolic_mmhg: int | None = None
    diastolic_mmhg: int | None = None
    spo2_percent: int | None = None
    glucose_mgdl: float | None = None
    weight_kg: float | None = None

    @property
    def is_empty(self) -> bool:
        return all(value is None for value in vars(self).values())

    @property
    def pressure(self) -> str:
        return "" if self.systolic_mmhg is None else f"{self.systolic_mmhg}/{self.diastolic_mmhg}"


@dataclass(frozen=True)
class BoutEntry:
    activity: str
    minutes: int | None = None
    speed_kmh: float | None = None
    grade_percent: float | None = None
    power_w: float | None = None
    heart_rate_bpm: int | None = None
    systolic_mmhg: int | None = None
    diastolic_mmhg: int | None = None
    rpe: int | None = None

    @property
    def is_done(self) -> bool:
        """A planned workload alone is not exercise; something measured makes it one."""
        measured = (self.minutes, self.heart_rate_bpm, self.systolic_mmhg, self.rpe)
        return bool(self.activity) and any(value is not None for value in measured)


@dataclass(frozen=True)
class Rhythm:
    pvc_per_minute: int | None = None
    has_couplets: bool | None = None
    has_triplets: bool | None = None
    qrs_before_ms: int | None = None
    qrs_during_ms: int | None = None

    @property
    def is_empty(self) -> bool:
        return all(value is None for value in vars(self).values())

    @property
    def couplets_or_triplets(self) -> bool | None:
        """True if either was seen, False only if both were denied."""
        if self.has_couplets or self.has_triplets:
            return True
        if self.has_couplets is None or self.has_triplets is None:
            return None
        return False


@dataclass(frozen=True)
class Sheet:
    before: Vitals = Vitals()
    after: Vitals = Vitals()
    bouts: tuple[BoutEntry, ...] = ()
    rhythm: Rhythm = Rhythm()
    minutes: int | None = None
    has_new_symptoms: bool | None = None
    symptoms: str = ""
    note: str = ""
    has_ecg: bool | None = None
    has_exercise_part: bool = True  # False when only "before" was on the form

    @property
    def done(self) -> list[BoutEntry]:
        return [bout for bout in self.bouts if bout.is_done]


@dataclass(frozen=True)
class Background:
    """What the records say about the person that the rules need."""

    uses_insulin: bool = False
    has_heart_failure: bool = False
    weights_last_3_days_kg: tuple[float, ...] = ()
    last_weight_kg: float | None = None  # for workloads, when none was taken today


def cost_of(bout: BoutEntry, weight_kg: float | None) -> workload.Cost | None:
    """Oxygen cost of a bout, None when its workload or the body mass is not known."""
    grade = (bout.grade_percent or 0) / 100
    if bout.activity in {"treadmill", "track"} and bout.speed_kmh:
        return workload.treadmill(bout.speed_kmh, grade)
    if bout.activity == "cycle" and bout.power_w is not None and weight_kg is not None:
        return workload.leg_cycling(bout.power_w, weight_kg)
    if bout.activity == "arm" and bout.power_w is not None and weight_kg is not None:
        return workload.arm_cycling(bout.power_w, weight_kg)
    return None


def readings_of(sheet: Sheet, background: Background, *, has_exercised: bool) -> Readings:
    """The facts the rules read, from what was typed and what is on record."""
    before, rhythm = sheet.before, sheet.rhythm
    weight = before.weight_kg if before.weight_kg is not None else background.last_weight_kg
    return Readings(
        heart_rate_bpm=before.heart_rate_bpm,
        systolic_mmhg=before.systolic_mmhg,
        diastolic_mmhg=before.diastolic_mmhg,
        spo2_percent=before.spo2_percent,
        glucose_mgdl=before.glucose_mgdl,
        weight_kg=before.weight_kg,
        weights_last_3_days_kg=background.weights_last_3_days_kg,
        has_new_symptoms=sheet.has_new_symptoms,
        has_heart_failure=background.has_heart_failure,
        uses_insulin=background.uses_insulin,
        efforts=efforts_of(sheet.bouts, weight),
        pvc_per_minute=rhythm.pvc_per_minute,
        has_couplets_or_triplets=rhythm.couplets_or_triplets,
        qrs_before_ms=rhythm.qrs_before_ms,
        qrs_during_ms=rhythm.qrs_during_ms,
        has_exercised=has_exercised,
    )


def efforts_of(bouts: Sequence[BoutEntry], weight_kg: float | None) -> tuple[Effort, ...]:
    efforts = []
    for bout in bouts:
        if bout.systolic_mmhg is not None:
            cost = cost_of(bout, weight_kg)
            mets = cost.mets if cost else None
            efforts.append(Effort(bout.systolic_mmhg, mets, bout.diastolic_mmhg))
    return tuple(efforts)


@dataclass(frozen=True)
class Dose:
    """What the bouts add up to; ``n_unknown`` bouts could not be computed."""

    minutes: int
    met_minutes: float
    n_unknown: int = field(default=0)


def dose_of(bouts: Sequence[tuple[int | None, float | None]]) -> Dose:
    """Minutes and MET-minutes of (minutes, METs) pairs."""
    known = [(m, mets) for m, mets in bouts if m is not None and mets is not None]
    total = sum(m for m, _ in bouts if m is not None)
    return Dose(
        total, sum(workload.met_minutes(mets, m) for m, mets in known), len(bouts) - len(known)
    )
