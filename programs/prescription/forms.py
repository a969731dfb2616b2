"""The form of a prescription."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from crispy_forms.layout import HTML, Div, Layout
from django import forms

from patients.calc.limits import (
    BOUT_MINUTES,
    GRADE_PERCENT,
    HEART_RATE_BPM,
    RPE,
    SETS,
    VO2_ML_KG_MIN,
    Limit,
)
from patients.calc.measuring import STORED, Units
from patients.forms import Asked, AsksTwiceForm, DayField, NumberField
from programs.enrolment.models import Enrolment
from programs.prescription.boxes_of_lifts import LiftsField, box_of
from programs.prescription.calc.dose import DAYS_A_WEEK, HOLD_S, WARM_UP_MINUTES
from programs.prescription.calc.intensity import USUAL_RPE, USUAL_START
from programs.prescription.calc.lifts import Lift, stored, to_ask
from programs.prescription.calc.machines import Machine
from programs.prescription.dose_fields import STRENGTH_CHOICES
from programs.prescription.models import Prescription

SHARE_PERCENT = Limit("Share of the reserve", "%", 0, 100, 30, 85)
METS = Limit("Work", "METs", 1.1, 20, 1.5, 10)
PER_WEEK = Limit("Sessions a week", "a week", 1, 7)
AHEAD_DAYS = 30  # a dose is written for now or soon (project choice)
STAGES = [("", "not now"), *STRENGTH_CHOICES]
# What the service takes as it was typed.
TYPED = [
    "method", "resting_bpm", "peak_bpm", "tested_on", "peak_vo2", "upper_limit_bpm",
    "upper_limit_reason", "rpe_low", "rpe_high", "target_mets", "treadmill_grade_percent",
    "minutes", "per_week", "note", "warm_up_minutes", "cool_down_minutes", "strength",
    "strength_from", "strength_sets", "strength_days", "stretch_days", "stretch_hold_s",
    "balance_days", "home_days", "home_minutes", "most_rpe", "most_bpm", "most_mets",
    "most_minutes", "most_per_week", "most_strength",
]  # fmt: skip


def _days(words: str) -> NumberField:
    return NumberField(DAYS_A_WEEK, whole=True, names_unit=True, label=words)


class PrescriptionForm(AsksTwiceForm):
    valid_from = DayField(required=False, label="In force from", help_text="Empty is today.")
    method = forms.ChoiceField(choices=Prescription.Method.choices, label="Based on")
    resting_bpm = NumberField(HEART_RATE_BPM, whole=True, label="Resting heart rate")
    peak_bpm = NumberField(HEART_RATE_BPM, whole=True, label="Peak heart rate, tested")
    peak_vo2 = NumberField(VO2_ML_KG_MIN, label="Peak uptake")
    tested_on = DayField(required=False, label="Tested on")
    tested_because = forms.CharField(
        max_length=200, required=False, label="Why an old test still counts"
    )
    low_percent = NumberField(SHARE_PERCENT, label="From, of reserve")
    high_percent = NumberField(SHARE_PERCENT, label="To, of reserve")
    upper_limit_bpm = NumberField(HEART_RATE_BPM, whole=True, label="Upper limit")
    upper_limit_reason = forms.CharField(max_length=80, required=False, label="Reason for limit")
    above_because = forms.CharField(
        max_length=200, required=False, label="Why a known limit is passed"
    )
    rpe_low = NumberField(RPE, whole=True, names_unit=True, label="RPE from", required=True)
    rpe_high = NumberField(RPE, whole=True, names_unit=True, label="RPE to", required=True)
    target_mets = NumberField(METS, label="Work")
    treadmill_grade_percent = NumberField(GRADE_PERCENT, label="Treadmill grade")
    minutes = NumberField(BOUT_MINUTES, whole=True, label="Minutes a session", required=True)
    per_week = NumberField(PER_WEEK, whole=True, names_unit=True, required=True)
    warm_up_minutes = NumberField(WARM_UP_MINUTES, whole=True, label="Warm-up")
    cool_down_minutes = NumberField(WARM_UP_MINUTES, whole=True, label="Cool-down")
    strength = forms.ChoiceField(choices=STAGES, required=False, label="Resistance")
    strength_from = DayField(required=False, label="Resistance from")
    strength_sets = NumberField(SETS, whole=True, names_unit=True, label="Sets")
    strength_days = _days("Resistance days")
    lifts = LiftsField()
    stretch_days = _days("Flexibility days")
    stretch_hold_s = NumberField(HOLD_S, whole=True, label="Hold")
    balance_days = _days("Balance days")
    home_days = _days("Home days")
    home_minutes = NumberField(BOUT_MINUTES, whole=True, label="Minutes at home")
    most_rpe = NumberField(RPE, whole=True, names_unit=True, label="RPE, at most")
    most_bpm = NumberField(HEART_RATE_BPM, whole=True, label="Heart rate, at most")
    most_mets = NumberField(METS, label="Work, at most")
    most_minutes = NumberField(BOUT_MINUTES, whole=True, label="Minutes, at most")
    most_per_week = NumberField(PER_WEEK, whole=True, names_unit=True, label="Sessions, at most")
    most_strength = forms.ChoiceField(choices=STAGES, required=False, label="Resistance, at most")
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(
        self,
        *args: Any,
        machines: Sequence[Machine] = (),
        lifts: Sequence[Lift] = (),
        units: Units = STORED,
        today: date | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.machines, self.today = machines, today
        box_of(self).fill(lifts, units)
        for machine in machines:
            self.fields[f"minutes_{machine.kind}"] = NumberField(
                BOUT_MINUTES, whole=True, label=machine.name
            )
        if not self.is_bound:
            for name, value in {
                "low_percent": round(USUAL_START[0] * 100),
                "high_percent": round(USUAL_START[1] * 100),
                "rpe_low": USUAL_RPE[0],
                "rpe_high": USUAL_RPE[1],
                "minutes": 30,
                "per_week": 3,
            }.items():
                self.initial.setdefault(name, value)
        self.helper.layout = self._laid_out()

    def _laid_out(self) -> Layout:
        def row(*names: str) -> Div:
            return Div(*names, css_class="four")

        return Layout(
            *["submission_key", "seen_version", "confirmed"],
            HTML("<h2>Intensity</h2>"),
            row("method", "rpe_low", "rpe_high", "upper_limit_bpm"),
            row("low_percent", "high_percent", "resting_bpm", "peak_bpm"),
            row("peak_vo2", "tested_on", "upper_limit_reason", "tested_because"),
            "above_because",
            HTML("<h2>Work and time</h2>"),
            row("target_mets", "treadmill_grade_percent", "minutes", "per_week"),
            HTML(
                '<h3>Minutes by machine <span class="dim small">'
                "empty: half each of the first two</span></h3>"
            ),
            Div(*[f"minutes_{machine.kind}" for machine in self.machines], css_class="six"),
            HTML("<h2>Beside it</h2>"),
            row("warm_up_minutes", "cool_down_minutes", "home_days", "home_minutes"),
            row("strength", "strength_from", "strength_sets", "strength_days"),
            "lifts",
            row("stretch_days", "stretch_hold_s", "balance_days", "valid_from"),
            HTML("<h2>May be raised, without another signature, up to</h2>"),
            Div(
                *["most_rpe", "most_bpm", "most_mets", "most_minutes", "most_per_week"],
                "most_strength",
                css_class="six",
            ),
            "note",
        )

    def unusual(self) -> list[str]:
        """As everywhere; and about a lift that may have slipped, while resistance goes on."""
        found = super().unusual()
        data, box = self.cleaned_data, box_of(self)
        if data.get("lifts") is not None and data.get("strength"):
            words = to_ask(box.shown, data["lifts"], box.units)
            found += [Asked("lifts", one) for one in words]
        return found

    def clean_valid_from(self) -> date | None:
        """Today or soon: what people exercised by is never written afterwards."""
        day: date | None = self.cleaned_data["valid_from"]
        if day is None or self.today is None:
            return day
        if not self.today <= day <= self.today + timedelta(days=AHEAD_DAYS):
            raise forms.ValidationError(f"From today on, at most {AHEAD_DAYS} days ahead.")
        return day

    def draft(self, enrolment: Enrolment) -> Prescription:
        """The typed inputs as an unsaved prescription; the service computes the ranges."""
        d = self.cleaned_data
        minutes = [(m.kind, d.get(f"minutes_{m.kind}")) for m in self.machines]
        return Prescription(
            enrolment=enrolment,
            valid_from=d["valid_from"] or enrolment.patient.site.today(),
            low_share=_fraction(d["low_percent"]),
            high_share=_fraction(d["high_percent"]),
            tested_because=d["tested_because"].strip(),
            above_because=d["above_because"].strip(),
            loads=[{"kind": kind, "minutes": typed} for kind, typed in minutes if typed],
            lifts=stored(d["lifts"]),
            **{name: d[name] for name in TYPED},
        )


def _fraction(percent: float | None) -> float | None:
    return None if percent is None else percent / 100
