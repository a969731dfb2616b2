"""What a sheet stores: readings, answers, bouts, rhythm; and what may not change without words.

A hold must never vanish because somebody typed over the value that raised it. So a value typed
over another is a new reading, both stay; correcting a typing error, emptying a box, or taking back
a yes needs the reason, which is kept with the version.
"""

from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from patients.history import save_as
from patients.services import weigh
from programs.attendance.calc.derived import KETONE_RANK
from programs.attendance.calc.effort import Load, cost_of
from programs.attendance.calc.low_glucose import needs_new_ketones
from programs.attendance.calc.questions import BY_ID
from programs.attendance.calc.rhythm import RHYTHM_WORDS
from programs.attendance.calc.sheet import GROUPS, IN_WORDS, Sheet, Vitals, merged_answers
from programs.attendance.findings.known import known_of
from programs.attendance.models import Bout, Reading, RhythmFinding, Visit
from programs.attendance.visit.queries import merged_vitals
from programs.staff.models import User

PLAIN = ["answers", "symptoms", "ketones", "last_meal_at", "last_dose_at", "has_ecg"]


def store_sheet(
    visit: Visit, sheet: Sheet, because: str, *, is_repeat: bool = False, by: User
) -> None:
    """Store what was typed on a locked visit; the visit's own row is left to the caller to save.

    Raises
    ------
    ValidationError : something on record changes that needs words, and there are none; or a
        value is out of range.
    """
    sheet = replace(sheet, answers=merged_answers(visit.answers, sheet))
    rhythm = RhythmFinding.objects.filter(visit=visit).first()
    if not because:
        _refuse_silent_changes(visit, rhythm, sheet)
    earlier = merged_vitals(list(visit.readings.filter(phase=Reading.Phase.BEFORE))).glucose
    _store_vitals(visit, Reading.Phase.BEFORE, sheet.before, because, is_repeat, by=by)
    if (
        needs_new_ketones(visit.ketones, earlier, sheet.before.glucose)
        and sheet.ketones == visit.ketones
    ):
        sheet = replace(sheet, ketones="")
    for name in PLAIN:
        setattr(visit, name, getattr(sheet, name))
    _store_rhythm(visit, rhythm, sheet, by=by)
    if sheet.has_exercise_part:
        _store_vitals(visit, Reading.Phase.DURING, sheet.during, because, by=by)
        _store_vitals(visit, Reading.Phase.AFTER, sheet.after, because, by=by)
        _store_vitals(visit, Reading.Phase.RECOVERY, sheet.recovery, because, by=by)
        _store_bouts(visit, sheet, by=by)
        visit.minutes, visit.note, visit.left_early = sheet.minutes, sheet.note, sheet.left_early


def _refuse_silent_changes(visit: Visit, rhythm: RhythmFinding | None, sheet: Sheet) -> None:
    said = [BY_ID[key].asks for key, yes in visit.answers.items()
            if yes and sheet.answers.get(key) is not True]  # fmt: skip
    changed = [f"“{asks}” was answered yes." for asks in said]
    was = KETONE_RANK.get(visit.ketones, 0)
    if was > KETONE_RANK.get(sheet.ketones, 0):
        changed.append(f"Ketones were {visit.get_ketones_display()}.")
    if rhythm is not None and rhythm.before and rhythm.before != sheet.rhythm.before:
        changed.append(f"The rhythm was noted as {RHYTHM_WORDS[rhythm.before]}.")
    if changed:
        raise ValidationError({"because": [" ".join([*changed, "Write why this changes."])]})


def _store_vitals(
    visit: Visit, phase: str, typed: Vitals, because: str, is_repeat: bool = False, *, by: User
) -> None:
    """What was typed over is a new reading; with words it corrects the one it stands in."""
    rows = list(visit.readings.filter(phase=phase).select_related("body_weight"))
    if not rows or is_repeat:
        if not typed.is_empty:
            _new_reading(visit, phase, asdict(typed), by=by)
        return
    shown, given = asdict(merged_vitals(rows)), asdict(typed)
    changed = [g for g in GROUPS if any(given[name] != shown[name] for name in g)]
    over = [g for g in changed if shown[g[0]] is not None]
    if because:
        _correct(rows, changed, given, because, by=by)
        return
    if any(given[g[0]] is None for g in over):
        raise ValidationError({"because": [f"{_words(over)} was emptied. Write what was wrong."]})
    has_begun = phase == Reading.Phase.BEFORE and visit.started_at is not None
    if over and (has_begun or visit.on != visit.enrolment.patient.site.today()):
        raise ValidationError(
            {"because": [f"{_words(over)} was measured at its time. Write why it is corrected."]}
        )
    # A glucose has its own time, since what follows it is counted in minutes.
    fresh = [g for g in changed if g in over or g[0] == "glucose_mgdl"]
    _correct(rows, [g for g in changed if g not in fresh], given, "", by=by)
    if fresh:
        _new_reading(visit, phase, {name: given[name] for g in fresh for name in g}, by=by)


def _words(groups: list[tuple[str, ...]]) -> str:
    return ", ".join(IN_WORDS[group[0]] for group in groups).capitalize()


def _new_reading(visit: Visit, phase: str, values: dict[str, Any], *, by: User) -> None:
    _save_reading(Reading(visit=visit, phase=phase, taken_at=timezone.now(), **values), by=by)


def _save_reading(reading: Reading, because: str = "", *, by: User) -> None:
    """Store a reading, and the weight in it as the person's."""
    visit = reading.visit
    reading.body_weight = weigh(
        visit.enrolment.patient_id,
        reading.weight_kg,
        visit.on,
        reading.taken_at,
        known=reading.body_weight,
        reason=because or "weighed in class",
        by=by,
    )
    save_as(reading, by=by, reason=because)


def _correct(
    rows: list[Reading], groups: list[tuple[str, ...]], given: dict[str, Any], because: str,
    *, by: User,
) -> None:  # fmt: skip
    """Set values in the reading that holds them: the last that has one, else the last of all."""
    touched: dict[int, Reading] = {}
    for group in groups:
        having = [reading for reading in rows if getattr(reading, group[0]) is not None]
        holder = (having or rows)[-1]
        for name in group:
            setattr(holder, name, given[name])
        touched[holder.pk] = holder
    for reading in touched.values():
        _save_reading(reading, because, by=by)


def _store_bouts(visit: Visit, sheet: Sheet, *, by: User) -> None:
    weight = sheet.before.weight_kg or known_of(visit).last_weight_kg
    stored = {bout.place: bout for bout in visit.bouts.all()}
    for place, entry in enumerate(sheet.bouts, start=1):
        bout = stored.get(place)
        is_running = bout is not None and bout.began_at is not None and bool(entry.activity)
        if not entry.is_done and not is_running:
            if bout is not None and not bout.is_withdrawn:
                bout.is_withdrawn = True
                save_as(bout, by=by, reason="withdrawn")
            continue
        bout = bout or Bout(visit=visit, place=place, began_at=_began(visit, entry, place))
        cost = cost_of(entry, weight)
        new = asdict(entry) | {
            "mets": cost.mets if cost else None,
            "is_mets_in_range": cost.is_in_range if cost else True,
            "is_withdrawn": False,
        }
        if bout.pk is None or any(getattr(bout, name) != value for name, value in new.items()):
            for name, value in new.items():
                setattr(bout, name, value)
            save_as(bout, by=by)


def _began(visit: Visit, entry: Load, place: int) -> datetime | None:
    """When a bout without minutes began, of somebody who exercises: with exercise, or now."""
    if visit.state != Visit.State.EXERCISING or entry.minutes is not None:
        return None
    return visit.started_at if place == 1 else timezone.now()


def _store_rhythm(visit: Visit, row: RhythmFinding | None, sheet: Sheet, *, by: User) -> None:
    """A form that shows only what comes before exercise changes only that."""
    if row is None and sheet.rhythm.is_empty:
        return
    row = row or RhythmFinding(visit=visit)
    new: dict[str, Any] = asdict(sheet.rhythm)
    if not sheet.has_exercise_part:
        new = {name: new[name] for name in ["before", "qrs_before_ms"]}
    if row.pk is None or any(getattr(row, name) != value for name, value in new.items()):
        for name, value in new.items():
            setattr(row, name, value)
        save_as(row, by=by)
