"""A stored visit in the sheet's own field names, and where a typed sheet differs from it."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.http import QueryDict

from patients.boxes_of_time import HourField
from patients.forms import UnitField, as_typed
from programs.attendance.calc.questions import ASKED_AFTER, ASKED_BEFORE, SEEN_DURING, applies_to
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import IN_WORDS
from programs.attendance.models import Reading, RhythmFinding, Visit
from programs.attendance.sheet.parts import BOUT_FIELDS, ECTOPY, NONE, SOME, UNASKED, asked_initial

PLAIN = ["minutes", "symptoms", "note", "has_ecg", "ketones", "last_meal_at", "last_dose_at",
         "left_early"]  # fmt: skip
# Pressures are shown as one pair, the meter's unit beside its glucose.
VITALS = [name for name in IN_WORDS if not name.endswith("systolic_mmhg")]


def initial_of(visit: Visit, groups: frozenset[str]) -> dict[str, Any]:
    """The stored visit in the sheet's own field names."""
    initial: dict[str, Any] = {name: getattr(visit, name) for name in PLAIN}
    asked = [q for q in ASKED_BEFORE if applies_to(q, groups=groups)]
    for name, questions in [("before", asked), ("during", SEEN_DURING), ("after", ASKED_AFTER)]:
        initial |= asked_initial(name, questions, visit.answers)
    for reading in visit.readings.all():  # later rows win, value by value
        initial |= _reading_initial(reading)
    for bout in visit.bouts.all():
        prefix = f"bout{bout.place}_"
        initial[prefix + "activity"], initial[prefix + "exercise"] = bout.activity, bout.exercise
        for name in BOUT_FIELDS:
            initial[prefix + name] = as_typed(getattr(bout, name))
        if bout.systolic_mmhg is not None:
            initial[prefix + "pressure"] = f"{bout.systolic_mmhg}/{bout.diastolic_mmhg}"
    rhythm = getattr(visit, "rhythm", None)
    return initial if rhythm is None else initial | _rhythm_initial(rhythm)


def _reading_initial(reading: Reading) -> dict[str, Any]:
    phase = reading.phase
    found = {
        f"{phase}_{name}": as_typed(getattr(reading, name))
        for name in VITALS
        if getattr(reading, name) is not None
    }
    if reading.glucose_mgdl is not None:
        found[f"{phase}_glucose_is_mmoll"] = reading.glucose_is_mmoll
    if reading.pressure:
        found[f"{phase}_pressure"] = reading.pressure
    if reading.standing_systolic_mmhg is not None:
        standing = f"{reading.standing_systolic_mmhg}/{reading.standing_diastolic_mmhg}"
        found[f"{phase}_standing_pressure"] = standing
    return found


def _rhythm_initial(row: RhythmFinding) -> dict[str, Any]:
    initial = {name: as_typed(getattr(row, name)) for name in Rhythm.__dataclass_fields__}
    initial |= {"rhythm_before": initial.pop("before"), "rhythm_during": initial.pop("during")}
    ticks = [name for name in ECTOPY if getattr(row, name)]
    seen = [getattr(row, name) for name in ECTOPY]
    details = (
        row.run_beats is not None or row.st_mm is not None or row.new_block not in ("", "none")
    )
    told = SOME if ticks or details else NONE
    asked = UNASKED if None in seen else told
    return initial | {"monitor_asked": asked, "monitor_ticks": ticks}


def fill_as_stored(data: QueryDict, form: forms.Form, names: Iterable[str]) -> None:
    """Put into ``data`` what a browser would send of these boxes if nobody touched them."""
    for name in names:
        field = form.fields[name]
        value = field.prepare_value(form.get_initial_for_field(field, name))
        data.pop(name, None)
        if isinstance(value, list | tuple):
            data.setlist(name, [str(one) for one in value])
        elif not (value is None or value is False or value == ""):  # and 0 is a value
            data[name] = str(value)


def differences(form: forms.Form, stored: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Field by field: label, what is stored now, what was typed, where the two differ."""
    rows = []
    for name, field in form.fields.items():
        if isinstance(field.widget, forms.HiddenInput):
            continue
        if isinstance(field, forms.MultipleChoiceField):
            words = dict(field.choices)  # type: ignore[arg-type]
            typed = ", ".join(str(words.get(k, k)) for k in _ticks(form, name))
            there = ", ".join(str(words.get(k, k)) for k in stored.get(name) or [])
        else:
            typed = str(form.data.get(form.add_prefix(name), "") or "").strip()
            value = field.prepare_value(stored.get(name))
            there = str("" if value is None else value).strip()
            if isinstance(field, UnitField | HourField) and _is_stored(form, name, stored):
                continue  # the same, written otherwise
        if typed != there and not _same_number(typed, there):
            rows.append((f"{field.label or name}", there or "empty", typed or "empty"))
    return rows


def _is_stored(form: forms.Form, name: str, stored: dict[str, Any]) -> bool:
    """What was typed says what is stored, in whatever unit or way."""
    return name in form.cleaned_data and form.cleaned_data[name] == stored.get(name)


def _ticks(form: forms.Form, name: str) -> list[str]:
    data: Any = form.data
    return data.getlist(name) if hasattr(data, "getlist") else data.get(name, [])


def _same_number(a: str, b: str) -> bool:
    try:
        return float(a.replace(",", ".")) == float(b)
    except ValueError:
        return False
