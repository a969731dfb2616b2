"""The session sheet: before, exercise, after and recovery of one visit."""

import uuid
from collections.abc import Collection
from typing import Any

from django import forms
from django.http import QueryDict

from patients.boxes_of_time import HourField
from patients.calc.limits import (
    ANGINA_GRADE,
    GLUCOSE_MGDL,
    HEART_RATE_BPM,
    PVC_PER_MINUTE,
    RPE,
    RUN_BEATS,
    SESSION_MINUTES,
    SPO2_PERCENT,
    ST_MM,
    TEMPERATURE_C,
    WEIGHT_KG,
)
from patients.forms import (
    Asked,
    AsksTwiceForm,
    InUnits,
    NumberField,
    PressureField,
    UnitField,
    YesNoField,
)
from patients.submissions import key_of
from programs.attendance.calc.counting import ONE_SESSION_MINUTES
from programs.attendance.calc.effort import Load
from programs.attendance.calc.questions import (
    ASKED_AFTER,
    ASKED_BEFORE,
    SEEN_DURING,
    applies_to,
)
from programs.attendance.calc.rhythm import BLOCKS, LEAD_GROUPS, RHYTHMS, ST_CHANGES
from programs.attendance.models import Visit
from programs.attendance.sheet import sections
from programs.attendance.sheet.about import About
from programs.attendance.sheet.layout import SheetLayout
from programs.attendance.sheet.parts import (
    ECTOPY,
    NONE,
    SOME,
    add_bout,
    asked_field,
    ticks_field,
)
from programs.attendance.sheet.qrs import QrsField
from programs.attendance.sheet.stored import fill_as_stored
from programs.attendance.sheet.values import SheetValues
from programs.attendance.visit.bouts import BOUTS

WEIGHT_JUMP_KG = 5  # more than this from the last weight is asked about (project choice)
NO_CHANGES, CHANGES = "No changes", "Changes (tick)"
MONITOR_DETAILS = ["run_beats", "run_rate_bpm", "st_mm", "st_change", "st_leads", "new_block"]


def _choice(label: str, choices: Collection[tuple[str, str]], blank: str) -> forms.ChoiceField:
    return forms.ChoiceField(choices=[("", blank), *choices], required=False, label=label)


class SheetForm(SheetLayout, SheetValues, InUnits, AsksTwiceForm):
    """Before, exercise, after, recovery; the boxes of some sections, the others as stored."""

    is_repeat = forms.BooleanField(required=False, widget=forms.HiddenInput)
    # What this form shows, so that what it does not show is never taken for emptied.
    shows = forms.CharField(required=False, widget=forms.HiddenInput)
    before_heart_rate_bpm = NumberField(HEART_RATE_BPM, whole=True)
    before_pressure = PressureField()
    before_spo2_percent = NumberField(SPO2_PERCENT, whole=True, label="SpO₂")
    before_weight_kg = UnitField(WEIGHT_KG)
    before_glucose_mgdl = UnitField(GLUCOSE_MGDL)
    before_standing_pressure = PressureField(label="Standing")
    before_temperature_c = UnitField(TEMPERATURE_C)
    ketones = _choice("Ketones", Visit.Ketones.choices, "not tested")
    last_meal_at = HourField(required=False, label="Last meal")
    last_dose_at = HourField(required=False, label="Last insulin or tablet")
    before_asked = asked_field("Since the last visit", NO_CHANGES, CHANGES, "Not asked yet")
    before_ticks = ticks_field([])
    symptoms = forms.CharField(max_length=200, required=False, label="Comments")
    has_ecg = YesNoField(label="Continuous ECG", unanswered="not noted")
    rhythm_before = _choice("Rhythm before", RHYTHMS, "not noted")
    qrs_before_ms = QrsField(label="QRS before")
    during_asked = asked_field("Signs and symptoms", "None", "Some (tick)", "Not noted yet")
    during_ticks = ticks_field([(q.id, q.asks) for q in SEEN_DURING])
    rhythm_during = _choice("Rhythm in exercise", RHYTHMS, "not noted")
    pvc_per_minute = NumberField(
        PVC_PER_MINUTE, whole=True, names_unit=True, label="PVCs per minute"
    )
    qrs_during_ms = QrsField(label="QRS during")
    monitor_asked = asked_field("Seen on the monitor", NO_CHANGES, CHANGES, "Not noted yet")
    monitor_ticks = ticks_field(ECTOPY.items())
    run_beats = NumberField(RUN_BEATS, whole=True, names_unit=True, label="Ventricular run, beats")
    run_rate_bpm = NumberField(HEART_RATE_BPM, whole=True, names_unit=True, label="Run rate, /min")
    st_change = _choice("ST change", ST_CHANGES, "not noted")
    st_mm = NumberField(ST_MM, label="ST change by")
    st_leads = _choice("Leads", LEAD_GROUPS, "not noted")
    has_q_wave = YesNoField(label="Q wave present", unanswered="not noted")
    new_block = _choice("New AV or bundle branch block", BLOCKS, "not noted")
    during_glucose_mgdl = UnitField(GLUCOSE_MGDL, label="Glucose in exercise")
    after_heart_rate_bpm = NumberField(HEART_RATE_BPM, whole=True)
    after_pressure = PressureField(label="BP")
    after_spo2_percent = NumberField(SPO2_PERCENT, whole=True, label="SpO₂")
    after_glucose_mgdl = UnitField(GLUCOSE_MGDL)
    after_rpe = NumberField(RPE, whole=True, names_unit=True, label="RPE")
    recovery_heart_rate_bpm = NumberField(HEART_RATE_BPM, whole=True)
    recovery_pressure = PressureField(label="BP")
    recovery_spo2_percent = NumberField(SPO2_PERCENT, whole=True, label="SpO₂")
    recovery_glucose_mgdl = UnitField(GLUCOSE_MGDL)
    recovery_angina = NumberField(ANGINA_GRADE, whole=True, names_unit=True)
    after_asked = asked_field("In recovery", "No symptoms", "Symptoms (tick)", "Not asked yet")
    after_ticks = ticks_field([(q.id, q.asks) for q in ASKED_AFTER])
    minutes = NumberField(SESSION_MINUTES, whole=True, label="Minutes")
    left_early = forms.CharField(max_length=120, required=False, label="Left early because")
    because = forms.CharField(
        max_length=120,
        required=False,
        label="Reason for correction",
        widget=forms.TextInput(attrs={"placeholder": "a typing error; empty: a new reading"}),
    )
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(
        self,
        *args: Any,
        with_exercise: bool,
        plan: list[Load],
        about: About | None = None,
        shown: Collection[str] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.about = about or About()
        self.stored = dict(self.initial)
        self.sent = self.data
        if self.is_bound and "shows" in self.data:
            shown = sections.read(self.data["shows"])
        if shown is None:
            shown = sections.SECTIONS if with_exercise else [sections.BEFORE]
        self.shown = frozenset(shown)
        self.initial["shows"] = sections.written(self.shown)
        with_exercise = with_exercise or bool(self.shown & sections.WITH_EXERCISE)
        self.with_exercise, self.plan = with_exercise, plan
        self.questions = [q for q in ASKED_BEFORE if applies_to(q, groups=self.about.groups)]
        asked: Any = self.fields["before_ticks"]
        asked.choices = [(q.id, q.asks) for q in self.questions]
        self.wants_glucose = "diabetes" in self.about.groups
        for place in range(1, BOUTS + 1):
            add_bout(self, place, plan[place - 1] if place <= len(plan) else None)
        self.choose_units(self.about.units)
        self._show_last_time()
        self.fields["minutes"].widget.attrs["placeholder"] = f"{ONE_SESSION_MINUTES}+"
        if self.is_bound:
            self._keep_what_is_not_shown()

    @property
    def key(self) -> uuid.UUID | None:
        """The key of what was sent, whatever is stored beside it meanwhile."""
        return key_of(self.cleaned_data.get("submission_key"), self.sent)

    @property
    def shows_slug(self) -> str:
        """The part somebody is at, by which a browser keeps what is typed and not saved."""
        return next((one for one in ("before", "exercise", "after") if one in self.shown), "bout")

    def _is_shown(self, name: str) -> bool:
        section = sections.section_of(name)
        return not section or section in self.shown

    def _keep_what_is_not_shown(self) -> None:
        """The boxes of other sections are taken as they are stored."""
        hidden = [name for name in self.fields if not self._is_shown(name)]
        if hidden:
            data = QueryDict(mutable=True)
            data.update(self.data)
            fill_as_stored(data, self, hidden)
            self.data = data

    def _show_last_time(self) -> None:
        """Last time's values stand in the empty boxes."""
        last = self.about.last
        if last is None:
            return
        for name in ["heart_rate_bpm", "spo2_percent", "weight_kg", "glucose_mgdl"]:
            field: Any = self.fields[f"before_{name}"]
            value = getattr(last, name)
            if value is not None:
                field.widget.attrs["placeholder"] = f"last {field.prepare_value(value)}"
        if last.pressure:
            self.fields["before_pressure"].widget.attrs["placeholder"] = f"last {last.pressure}"

    # --- checks ---------------------------------------------------------------------------

    def unusual(self) -> list[str]:
        """As everywhere, of the boxes that are shown; and a jump in weight is asked about.

        What stands there as it was stored was asked about then.
        """
        found = super().unusual()
        weight, last = self.cleaned_data.get("before_weight_kg"), self.about.last_weight_kg
        if weight is not None and last is not None and abs(weight - last) > WEIGHT_JUMP_KG:
            field: Any = self.fields["before_weight_kg"]
            words = f"weight {field.shown(weight)}, last time {field.shown(last)}"
            found.append(Asked("before_weight_kg", words))
        return [one for one in found if self._is_asked_here(one)]

    def _is_asked_here(self, asked: str) -> bool:
        if not isinstance(asked, Asked):
            return True
        return self._is_shown(asked.field) and asked.field in self.changed_data

    def check_step(self, step: str) -> None:
        """What finishing needs; called after is_valid()."""
        data = self.cleaned_data
        if step == "finish" and not data.get("minutes"):
            self.add_error("minutes", "How many minutes did the session last?")
        if step == "finish":
            for place, bout in enumerate(self.sheet().bouts, start=1):
                if bout.is_done and bout.minutes is None and bout.repetitions is None:
                    self.add_error(f"bout{place}_minutes", "How many minutes?")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for place in range(1, BOUTS + 1):
            pressure = data.get(f"bout{place}_pressure") or (None, None)
            measured = ["minutes", "heart_rate_bpm", "rpe", "spo2_percent", "angina", "dyspnoea"]
            measured += ["repetitions", "in_reserve"]
            typed = pressure[0] is not None or any(
                data.get(f"bout{place}_{name}") is not None for name in measured
            )
            if typed and not data.get(f"bout{place}_activity"):
                self.add_error(f"bout{place}_activity", "Which activity?")
        for name in ["before", "during", "after", "monitor"]:
            if data.get(f"{name}_asked") == NONE and self._ticked(name):
                words = "Something is ticked or filled in all the same: which is right?"
                self.add_error(f"{name}_asked", words)
            elif data.get(f"{name}_asked") == SOME and not self._ticked(name):
                self.add_error(f"{name}_asked", "Tick what it is.")
        if data.get("st_change") not in (None, "", "none") and data.get("st_mm") is None:
            self.add_error("st_mm", "By how many mm?")
        if data.get("st_change") in ("", "none") and data.get("st_mm"):
            self.add_error("st_change", "Elevation or depression?")
        if data.get("run_rate_bpm") is not None and data.get("run_beats") is None:
            self.add_error("run_beats", "A run of how many beats?")
        if data.get("symptoms") and not data.get("before_ticks"):
            words = "There is a comment: tick what it is about, or “Anything else new”."
            self.add_error("before_asked", words)
        return data

    def _ticked(self, name: str) -> bool:
        data = self.cleaned_data
        details = MONITOR_DETAILS if name == "monitor" else []
        plain = [data.get(d) for d in details]
        return bool(data.get(f"{name}_ticks")) or any(v not in (None, "", "none") for v in plain)
