"""A stored visit in the sheet's own field names, and where a typed sheet differs from it."""

from typing import Any

from django import forms

from patients.forms import as_typed
from programs.attendance.calc.sheet import Rhythm
from programs.attendance.forms import BOUT_FIELDS
from programs.attendance.models import Visit


def initial_of(visit: Visit) -> dict[str, Any]:
    """The stored visit in the sheet's own field names."""
    initial: dict[str, Any] = {
        "minutes": visit.minutes,
        "has_new_symptoms": visit.has_new_symptoms,
        "symptoms": visit.symptoms,
        "note": visit.note,
        "has_ecg": visit.has_ecg,
    }
    for reading in visit.readings.all():  # later rows win, value by value
        for name in ["heart_rate_bpm", "spo2_percent", "glucose_mgdl", "weight_kg"]:
            if getattr(reading, name) is not None:
                initial[f"{reading.phase}_{name}"] = as_typed(getattr(reading, name))
        if reading.pressure:
            initial[f"{reading.phase}_pressure"] = reading.pressure
    for bout in visit.bouts.all():
        prefix = f"bout{bout.place}_"
        initial[prefix + "activity"] = bout.activity
        for name in BOUT_FIELDS:
            initial[prefix + name] = as_typed(getattr(bout, name))
        if bout.systolic_mmhg is not None:
            initial[prefix + "pressure"] = f"{bout.systolic_mmhg}/{bout.diastolic_mmhg}"
    rhythm = getattr(visit, "rhythm", None)
    if rhythm is not None:
        initial |= {name: getattr(rhythm, name) for name in Rhythm.__dataclass_fields__}
    return initial


def differences(form: forms.Form, stored: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Field by field: label, what is stored now, what was typed, where the two differ."""
    rows = []
    for name, form_field in form.fields.items():
        if isinstance(form_field.widget, forms.HiddenInput):
            continue
        typed = str(form.data.get(form.add_prefix(name), "") or "")
        there = str(form_field.prepare_value(stored.get(name)) or "")
        if typed.strip() != there.strip() and not _same_number(typed, there):
            rows.append((f"{form_field.label}", there or "empty", typed or "empty"))
    return rows


def _same_number(a: str, b: str) -> bool:
    try:
        return float(a.replace(",", ".")) == float(b)
    except ValueError:
        return False
