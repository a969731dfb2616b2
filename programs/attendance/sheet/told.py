"""A section of the session sheet that is done: its values in words instead of boxes."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import time
from typing import Any

from django import forms
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from patients.calc.measuring import Units
from patients.forms import NumberField, PressureField, as_typed
from patients.wall import clock
from programs.attendance.calc.effort import Load
from programs.attendance.calc.workload import workload_words
from programs.attendance.models import Bout
from programs.attendance.sheet.parts import BOUT_FIELDS, NONE, SOME

Row = tuple[str, str]
# Named also when there is nothing: what was not taken is never left out in silence.
ALWAYS_TOLD = {
    "before_heart_rate_bpm": "not taken",
    "before_pressure": "not taken",
    "before_asked": "not asked",
    "recovery_heart_rate_bpm": "not taken",
    "recovery_pressure": "not taken",
    "after_asked": "not asked",
    "minutes": "not entered",
}


# Beside its value a label may be short.
SHORT = {
    "Heart rate": "HR",
    "Blood pressure": "BP",
    "Since the last visit": "Changes",
    "Continuous ECG": "ECG",
    "Rhythm before": "Rhythm",
    "Signs and symptoms": "Signs",
    "Seen on the monitor": "Monitor",
}


def told(form: Any, names: Iterable[str]) -> list[Row]:
    """Label and stored value of each box that has one, or that is missed when it has none."""
    rows = []
    for name in names:
        field = form.fields[name]
        words = _asked(form, name) if name.endswith("_asked") else _words(field, form.stored, name)
        words = words or ALWAYS_TOLD.get(name, "")
        if words and not name.endswith("_ticks"):
            label = SHORT.get(str(field.label), str(field.label))
            is_later = name.startswith("recovery_")
            rows.append((f"Recovery {label}" if is_later else label, words))
    return rows


def _asked(form: Any, name: str) -> str:
    """The answers given in one go: none, or which of them were yes; a yes is never left out."""
    answer, ticks = form.stored.get(name), name.replace("_asked", "_ticks")
    words = dict(form.fields[ticks].choices)
    said = "; ".join(str(words[key]) for key in form.stored.get(ticks) or [] if key in words)
    if said:
        return said if answer == SOME else f"{said} (not all asked)"
    return str(dict(form.fields[name].choices)[answer]) if answer in (NONE, SOME) else ""


def _words(field: forms.Field, stored: dict[str, Any], name: str) -> str:
    value = stored.get(name)
    if value is None or value == "":
        return ""
    if isinstance(field, NumberField):
        return field.shown(value)
    if isinstance(field, PressureField):
        return f"{value} {field.unit}"
    if isinstance(field, forms.ChoiceField):
        words: dict[Any, Any] = dict(field.choices)  # type: ignore[arg-type]
        return str(words.get(field.prepare_value(value), ""))
    return clock(value) if isinstance(value, time) else str(value)


def drawn(rows: Iterable[Row]) -> SafeString:
    """The rows as a list of names and values."""
    lines = format_html_join("", "<div><dt>{}</dt><dd>{}</dd></div>", rows)
    return format_html('<dl class="told">{}</dl>', lines) if lines else SafeString("")


def planned(bouts: Iterable[Load], units: Units) -> SafeString:
    """What is to be trained, before it begins."""
    rows = []
    for bout in bouts:
        minutes = f"{bout.minutes} min" if bout.minutes else ""
        load = workload_words(bout.activity, asdict(bout), units)
        name = str(dict(Bout.Activity.choices).get(bout.activity, bout.activity))
        rows.append((name, " ".join(part for part in (load, minutes) if part) or "planned"))
    return drawn(rows)


BOUT_HEADS = ("Activity", "Load", "Min", "HR", "BP", "RPE", "SpO₂", "Angina", "Dyspnea")


def bout_cells(form: Any, prefix: str) -> list[str]:
    """One bout as its row of the table, in the order of ``BOUT_HEADS``; "–" was not taken."""
    stored = {name: form.stored.get(f"{prefix}_{name}") for name in BOUT_FIELDS}
    activity = str(form.stored.get(f"{prefix}_activity") or "")
    name = dict(form.fields[f"{prefix}_activity"].choices).get(activity, activity)
    load = workload_words(activity, stored, form.about.units)
    if stored["repetitions"] is not None:
        load = f"{as_typed(stored['sets']) or 1} × {as_typed(stored['repetitions'])} {load}"
    if stored["in_reserve"] is not None:
        load = f"{load.strip()}, {as_typed(stored['in_reserve'])} in reserve"
    measured = ["minutes", "heart_rate_bpm", "", "rpe", "spo2_percent", "angina", "dyspnoea"]
    values = [
        stored[one] if one else form.stored.get(f"{prefix}_pressure") or None for one in measured
    ]
    cells = ["–" if value is None else str(as_typed(value)) for value in values]
    exercise = form.stored.get(f"{prefix}_exercise")
    return [f"{name}: {exercise}" if exercise else str(name), load.strip() or "–", *cells]


def bouts_drawn(form: Any, prefixes: Iterable[str], correct: str) -> SafeString:
    """The bouts that are over, each with the way to its boxes; ``correct`` is the address to it."""
    rows = [
        format_html(
            '<tr><th scope="row">{}</th>{}<td>{}</td></tr>',
            cells[0],
            format_html_join("", "<td>{}</td>", ((cell,) for cell in cells[1:])),
            format_html('<a href="{}{}">Correct</a>', correct, prefix) if correct else "",
        )
        for prefix in prefixes
        for cells in [bout_cells(form, prefix)]
    ]
    if not rows:
        return SafeString("")
    heads = format_html_join("", '<th scope="col">{}</th>', ((head,) for head in BOUT_HEADS))
    return format_html(
        '<div class="scroll"><table class="bouts-told"><thead><tr>{}<th scope="col">'
        '<span class="unseen">Correct</span></th></tr></thead><tbody>{}</tbody></table></div>',
        heads,
        format_html_join("", "{}", ((row,) for row in rows)),
    )
