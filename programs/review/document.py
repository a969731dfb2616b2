"""The lines of a plan: what is read, compared, printed and signed.

A signed version keeps the lines it was signed with; they are read as they stand and never worked
out again. Of a draft they are worked out from the row, the dose in force and the course. A version
from before components has the lines of its four texts.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from patients.calc.days import in_words
from patients.calc.measuring import SPEED, WEIGHT, Quantity
from programs.enrolment.models import Enrolment
from programs.prescription.calc.lifts import Lift, line_of
from programs.prescription.calc.strength import BY_KEY
from programs.prescription.models import Prescription, TreatmentPlan
from programs.review.calc.canonical import digest_of
from programs.review.calc.components import COMPONENTS
from programs.review.calc.differences import Change, Row, changes_between
from programs.review.calc.parts import OF_THE_PROGRAM, Part, from_before, read_all, rows_of
from programs.staff.models import User

# Lines that are no decision of anybody: told as they are now, never as a change of the plan.
NO_DECISION = ("person.", "outcomes.", "prepared.", "signature.")
_BOXES = tuple(f".{box}" for box in OF_THE_PROGRAM)


def is_decided(row: Row | Change) -> bool:
    """Whether a line says what somebody decided, and not what was found."""
    return not row.key.startswith(NO_DECISION) and not row.key.endswith(_BOXES)


def parts_of(plan: TreatmentPlan) -> dict[str, Part]:
    """What a plan says of each component, in whatever way it was written."""
    if plan.content.get("components") is not None:
        return read_all(plan.content)
    return from_before(plan.exercise, plan.psychosocial)


def diagnosis_of(enrolment: Enrolment) -> str:
    """What somebody is in the program for, with its code and day."""
    condition = enrolment.referral.condition
    parts = [str(condition)]
    parts += [condition.icd10] if condition.icd10 else []
    parts += [in_words(condition.happened_on)] if condition.happened_on else []
    return ", ".join(parts)


def dose_rows(dose: Prescription | None, enrolment: Enrolment) -> list[Row]:
    """Type, amount, frequency and duration of exercise: 42 CFR 410.49(b)(2).

    Everything that a signature binds stands here: what does not is neither shown nor signed.
    """
    if dose is None:
        return [Row("dose.amount", "Exercise: amount", "")]
    amount = [f"heart rate {dose.heart_rate_words}" if dose.heart_rate_words else ""]
    amount += [dose.rpe_words, f"{dose.target_mets:g} METs" if dose.target_mets else ""]
    limit = f"{dose.upper_limit_bpm} /min" if dose.upper_limit_bpm else ""
    reason = f", {dose.upper_limit_reason}" if limit and dose.upper_limit_reason else ""
    course = f"{enrolment.sessions_planned} sessions in {enrolment.weeks} weeks"
    return [
        Row("dose.type", "Exercise: type", "; ".join(["aerobic exercise", *_machines(dose)])),
        Row("dose.amount", "Exercise: amount", _joined(amount)),
        Row("dose.limit", "Exercise: upper limit", limit + reason),
        Row("dose.above", "Exercise: beyond a known limit, because", dose.above_because),
        Row("dose.frequency", "Exercise: frequency", f"{dose.per_week} times a week"),
        Row("dose.duration", "Exercise: duration", f"{dose.minutes} minutes a session, {course}"),
        Row("dose.ends", "Exercise: warm-up and cool-down", _ends(dose)),
        Row("dose.strength", "Exercise: resistance", _strength(dose)),
        Row("dose.stretch", "Exercise: flexibility and balance", _stretch(dose)),
        Row("dose.home", "Exercise: at home", _home(dose)),
        Row("dose.most", "Exercise: may be raised up to", _most(dose)),
        Row("dose.note", "Exercise: note", dose.note),
    ]


def _joined(parts: Iterable[str]) -> str:
    return ", ".join(part for part in parts if part)


def _machines(dose: Prescription) -> list[str]:
    """Each machine as it is set, those of before by their columns."""
    told = [_load(load) for load in dose.loads if load.get("minutes") or load.get("mets")]
    if told:
        return told
    if dose.treadmill_kmh is not None:
        grade = f" at {dose.treadmill_grade_percent:g} %" if dose.treadmill_grade_percent else ""
        told.append(f"treadmill {_in_both(SPEED, dose.treadmill_kmh)}{grade}")
    if dose.cycle_w is not None:
        told.append(f"leg cycle {dose.cycle_w:g} W")
    return told


# What a machine is set to, and how it is written.
SETTINGS = {
    "grade_percent": "at {:g} %",
    "power_w": "{:g} W",
    "steps_per_minute": "{:g} steps a minute",
    "step_height_cm": "{:g} cm high",
    "minutes": "for {:g} minutes",
}


def _load(load: Mapping[str, Any]) -> str:
    told = [form.format(load[name]) for name, form in SETTINGS.items() if load.get(name)]
    speed = [_in_both(SPEED, load["speed_kmh"])] if load.get("speed_kmh") else []
    return " ".join([str(load["name"]), *speed, *told])


def _in_both(quantity: Quantity, stored: float) -> str:
    """A plan is read by people of either unit."""
    return f"{quantity.first.told(stored)} ({quantity.second.told(stored)})"


def _ends(dose: Prescription) -> str:
    warm = f"warm-up {dose.warm_up_minutes} minutes" if dose.warm_up_minutes else ""
    return _joined([warm, f"cool-down {dose.cool_down_minutes} minutes"
                    if dose.cool_down_minutes else ""])  # fmt: skip


def _strength(dose: Prescription) -> str:
    if not dose.strength:
        return ""
    return _joined([
        BY_KEY[dose.strength].name,
        f"from {in_words(dose.strength_from)}" if dose.strength_from else "",
        f"{dose.strength_sets} sets" if dose.strength_sets else "",
        f"{dose.strength_days} days a week" if dose.strength_days else "",
        "; ".join(_lift(lift) for lift in dose.lift_rows),
    ])  # fmt: skip


def _lift(lift: Lift) -> str:
    pounds = "" if lift.kg is None else f" ({WEIGHT.second.told(lift.kg)})"
    return f"{line_of(lift)}{pounds}"


def _stretch(dose: Prescription) -> str:
    return _joined([
        f"flexibility {dose.stretch_days} days a week" if dose.stretch_days else "",
        f"held {dose.stretch_hold_s} s" if dose.stretch_hold_s else "",
        f"balance {dose.balance_days} days a week" if dose.balance_days else "",
    ])  # fmt: skip


def _home(dose: Prescription) -> str:
    return _joined([
        f"{dose.home_days} days a week" if dose.home_days else "",
        f"{dose.home_minutes} minutes a day" if dose.home_minutes else "",
    ])  # fmt: skip


def _most(dose: Prescription) -> str:
    """How far a clinician may raise the dose without another signature, never below itself."""
    return _joined([
        f"RPE {max(dose.most_rpe, dose.rpe_high)}" if dose.most_rpe else "",
        f"{max(dose.most_bpm, dose.high_bpm or 0)} /min" if dose.most_bpm else "",
        f"{max(dose.most_mets, dose.target_mets or 0):g} METs" if dose.most_mets else "",
        f"{max(dose.most_minutes, dose.minutes)} minutes" if dose.most_minutes else "",
        f"{max(dose.most_per_week, dose.per_week)} times a week" if dose.most_per_week else "",
        f"resistance {BY_KEY[dose.most_strength].name}" if dose.most_strength else "",
    ])  # fmt: skip


def rows_of_plan(plan: TreatmentPlan, dose: Prescription | None) -> list[Row]:
    """The lines of a plan; ``dose`` is the one it goes with, which a signed version has itself.

    Of a version signed before lines were kept, ``dose`` is the last one signed.
    """
    kept = plan.content.get("signed")
    if kept is not None:
        return [Row(*row) for row in kept]
    enrolment = plan.enrolment
    patient, outcomes = enrolment.patient, plan.content.get("outcomes", {})
    rows = [
        Row("person.name", "Patient", str(patient)),
        Row("person.born", "Date of birth", in_words(patient.born_on)),
        Row("person.record", "Record number", patient.record_number),
        Row("person.site", "Site", patient.site.name),
        Row("diagnosis", "Diagnosis", diagnosis_of(enrolment)),
        Row("goals", "The person’s own goals", plan.goals),
        *dose_rows(dose, enrolment),
    ]
    parts = parts_of(plan)
    for one in COMPONENTS:
        rows += rows_of(one.key, one.name, parts[one.key])
    return [
        *rows,
        Row("risk_factors", "Risk factors and education in general", plan.risk_factors),
        Row("outcomes.start", "Outcomes at the start", outcomes.get("start", "")),
        Row("outcomes.end", "Outcomes at the end", outcomes.get("end", "")),
        Row("prepared.by", "Prepared by", str(plan.prepared_by) if plan.prepared_by_id else ""),
    ]


def signed_rows(
    plan: TreatmentPlan, dose: Prescription | None, by: User, on: date, scan: str
) -> list[Row]:
    """The lines of a draft with its signature: exactly what is signed."""
    how = f"on paper, scan {scan}" if scan else "on screen"
    return [
        *rows_of_plan(plan, dose),
        Row("signature.by", "Signed by", f"{by}, {by.title}".rstrip(", ")),
        Row("signature.on", "Signed on", in_words(on)),
        Row("signature.how", "Signed", how),
    ]


def is_intact(plan: TreatmentPlan) -> bool | None:
    """Whether the lines of a signed version are those that were signed; None where none are kept.

    The row's own signature is compared too: it is what every clock runs from.
    """
    if not plan.digest:
        return None
    rows = rows_of_plan(plan, None)
    texts = {row.key: row.text for row in rows}
    on = in_words(plan.signed_on) if plan.signed_on else ""
    return digest_of(rows) == plan.digest and texts.get("signature.on") == on


def compared(old: Sequence[Row], new: Sequence[Row]) -> tuple[Change, ...]:
    """The decided lines of a version beside an earlier one, and its other lines as they are."""
    was = [row for row in old if is_decided(row)]
    if not was:
        return changes_between([], new)
    told = [row if is_decided(row) else None for row in new]
    changed = changes_between(was, [row for row in told if row is not None])
    rest = changes_between([], [row for row in new if not is_decided(row)])
    return _in_order([*changed, *rest], new)


def _in_order(changes: Sequence[Change], new: Sequence[Row]) -> tuple[Change, ...]:
    """In the order of the later version; what only the earlier one has stays where it stood."""
    places = {row.key: n for n, row in enumerate(new)}
    found, last = [], 0
    for n, change in enumerate(changes):
        last = places.get(change.key, last)
        found.append((last, change.key not in places, n, change))
    return tuple(change for *_, change in sorted(found, key=lambda one: one[:3]))
