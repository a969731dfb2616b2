"""Pieces of the session sheet: questions answered in one go, the monitor, bouts of exercise."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from crispy_forms.layout import HTML, Div, Field
from django import forms

from patients.calc.limits import (
    ANGINA_GRADE,
    BOUT_MINUTES,
    CYCLE_W,
    DYSPNOEA_GRADE,
    GRADE_PERCENT,
    HEART_RATE_BPM,
    IN_RESERVE,
    LOAD_KG,
    REPETITIONS,
    RPE,
    SETS,
    SHOWN_METS,
    SPO2_PERCENT,
    STEP_HEIGHT_CM,
    STEPS_PER_MINUTE,
    TREADMILL_KMH,
    Limit,
)
from patients.calc.measuring import QUANTITY_OF
from patients.forms import NumberField, PressureField, UnitField, as_typed
from programs.attendance.calc.effort import Load
from programs.attendance.calc.questions import Question
from programs.attendance.models import Bout
from programs.attendance.visit.bouts import SET

ECTOPY = {
    "has_couplets": "couplets",
    "has_triplets": "triplets",
    "is_multiform": "multiform PVCs",
    "pvc_is_rising": "PVCs more frequent",
}
NONE, SOME, UNASKED = "none", "some", ""


def asked_field(label: str, none: str, some: str, unasked: str) -> forms.ChoiceField:
    """All answered no at once; all asked and yes to what is ticked below; or not asked."""
    return forms.ChoiceField(
        choices=[(NONE, none), (SOME, some), (UNASKED, unasked)],
        required=False,
        initial=UNASKED,
        label=label,
        widget=forms.RadioSelect,
    )


def ticks_field(choices: Iterable[tuple[str, str]]) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        choices=list(choices), required=False, label="", widget=forms.CheckboxSelectMultiple
    )


def asked_layout(name: str) -> Div:
    """The radio buttons, and the ticks that show once there is something."""
    return Div(
        Field(f"{name}_asked", wrapper_class="pills"),
        Field(f"{name}_ticks", wrapper_class="ticks"),
        css_class="asked",
    )


def answers_of(questions: Iterable[Question], asked: str, ticks: Iterable[str]) -> dict[str, bool]:
    """Answers typed in one go: a tick is a yes; the rest is a no only when all were asked."""
    ticked = set(ticks)
    return {q.id: q.id in ticked for q in questions if asked or q.id in ticked}


def asked_initial(
    name: str, questions: Iterable[Question], answers: Mapping[str, bool]
) -> dict[str, Any]:
    """Stored answers as the form shows them."""
    given = [answers[q.id] for q in questions if q.id in answers]
    if not given:
        return {f"{name}_asked": UNASKED, f"{name}_ticks": []}
    ticks = [q.id for q in questions if answers.get(q.id)]
    whole = len(given) == len(list(questions))
    asked = (SOME if ticks else NONE) if whole or not ticks else UNASKED
    return {f"{name}_asked": asked, f"{name}_ticks": ticks}


@dataclass(frozen=True)
class BoutField:
    label: str
    limit: Limit
    whole: bool
    shown_for: str = ""  # css class: the activities this box is for; "" for all


WORKLOAD: dict[str, BoutField] = {
    "speed_kmh": BoutField("", TREADMILL_KMH, False, "for-speed"),
    "grade_percent": BoutField("Grade %", GRADE_PERCENT, False, "for-grade"),
    "power_w": BoutField("Watts", CYCLE_W, False, "for-power"),
    "steps_per_minute": BoutField("Step cycles/min", STEPS_PER_MINUTE, True, "for-steps"),
    "step_height_cm": BoutField("Step cm", STEP_HEIGHT_CM, False, "for-steps"),
    "sets": BoutField("Sets", SETS, True, "for-sets"),
    "repetitions": BoutField("Reps", REPETITIONS, True, "for-sets"),
    "load_kg": BoutField("Load", LOAD_KG, False, "for-sets"),
    "in_reserve": BoutField("In reserve", IN_RESERVE, True, "for-sets"),
    "shown_mets": BoutField("METs shown", SHOWN_METS, False, "for-shown"),
}
MEASURED: dict[str, BoutField] = {
    "minutes": BoutField("Min", BOUT_MINUTES, True),
    "heart_rate_bpm": BoutField("HR", HEART_RATE_BPM, True),
    "rpe": BoutField("RPE", RPE, True),
    "spo2_percent": BoutField("SpO₂", SPO2_PERCENT, True),
    "angina": BoutField("Angina 0–4", ANGINA_GRADE, True),
    "dyspnoea": BoutField("Dyspnea 0–4", DYSPNOEA_GRADE, True),
}
BOUT_FIELDS = WORKLOAD | MEASURED


def add_bout(form: Any, place: int, planned: Load | None) -> None:
    """The boxes of one bout, what was planned already in them."""
    prefix = f"bout{place}_"
    form.fields[prefix + "activity"] = forms.ChoiceField(
        choices=[("", "—"), *Bout.Activity.choices], required=False, label="Activity"
    )
    form.fields[prefix + "exercise"] = forms.CharField(
        max_length=60, required=False, label="Exercise"
    )
    for name, about in BOUT_FIELDS.items():
        form.fields[prefix + name] = (
            UnitField(about.limit, names_unit=True, label=about.label)
            if about.limit in QUANTITY_OF
            else NumberField(about.limit, whole=about.whole, names_unit=True, label=about.label)
        )
    form.fields[prefix + "pressure"] = PressureField(names_unit=True, label="BP")
    form.fields[prefix + "pressure"].widget.attrs.pop("placeholder")
    for name in BOUT_FIELDS if planned else ():
        field = form.fields[prefix + name]
        if isinstance(field, UnitField):  # what was planned is not rounded by being shown
            field.keep(getattr(planned, name))
    if planned is None or form.is_bound:
        return
    for name in SET:  # from the last time: never what was measured or done
        form.initial.setdefault(prefix + name, as_typed(getattr(planned, name)))
    for name in ["minutes", "sets", "repetitions"]:
        if getattr(planned, name):
            form.fields[prefix + name].widget.attrs["placeholder"] = f"{getattr(planned, name)}"


def bout_layout(place: int) -> Div:
    prefix = f"bout{place}_"
    workload = [
        Field(prefix + name, wrapper_class=about.shown_for) for name, about in WORKLOAD.items()
    ]
    measured = [prefix + name for name in ["minutes", "heart_rate_bpm", "pressure", "rpe"]]
    measured += [prefix + name for name in ["spo2_percent", "angina", "dyspnoea"]]
    return Div(
        Field(prefix + "activity", wrapper_class="which"),
        Field(prefix + "exercise", wrapper_class="for-sets"),
        *workload,
        *measured,
        css_class="bout",
    )


def folded(title: str, *parts: Any, is_open: bool) -> list[Any]:
    """Parts behind a line to click on; open when there is something in them."""
    return [
        HTML(f"<details{' open' if is_open else ''}><summary>{title}</summary>"),
        *parts,
        HTML("</details>"),
    ]
