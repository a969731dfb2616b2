"""Prescription and treatment-plan forms."""

from typing import Any

from crispy_forms.layout import HTML, Div, Layout
from django import forms

from patients.calc.limits import BOUT_MINUTES, GRADE_PERCENT, HEART_RATE_BPM, RPE, Limit
from patients.forms import AsksTwiceForm, DayField, NumberField
from programs.enrolment.models import Enrolment
from programs.prescription.calc.intensity import USUAL_RPE, USUAL_START
from programs.prescription.models import Prescription

SHARE_PERCENT = Limit("Share of the reserve", "%", 0, 100, 30, 85)
METS = Limit("Work", "METs", 1.1, 20, 1.5, 10)
PER_WEEK = Limit("Sessions a week", "a week", 1, 7)


class PrescriptionForm(AsksTwiceForm):
    method = forms.ChoiceField(choices=Prescription.Method.choices, label="Based on")
    resting_bpm = NumberField(HEART_RATE_BPM, whole=True, label="Resting heart rate")
    peak_bpm = NumberField(HEART_RATE_BPM, whole=True, label="Peak heart rate, tested")
    tested_on = DayField(required=False, label="Tested on")
    tested_because = forms.CharField(
        max_length=200, required=False, label="Why an old test still counts"
    )
    low_percent = NumberField(SHARE_PERCENT, label="From, of reserve")
    high_percent = NumberField(SHARE_PERCENT, label="To, of reserve")
    upper_limit_bpm = NumberField(HEART_RATE_BPM, whole=True, label="Upper limit")
    upper_limit_reason = forms.CharField(max_length=80, required=False, label="Reason for limit")
    rpe_low = NumberField(RPE, whole=True, names_unit=True, label="RPE from", required=True)
    rpe_high = NumberField(RPE, whole=True, names_unit=True, label="RPE to", required=True)
    target_mets = NumberField(METS, label="Work")
    treadmill_grade_percent = NumberField(GRADE_PERCENT, label="Treadmill grade")
    minutes = NumberField(BOUT_MINUTES, whole=True, label="Minutes a session", required=True)
    per_week = NumberField(PER_WEEK, whole=True, names_unit=True, required=True)
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
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
        test = ["resting_bpm", "peak_bpm", "tested_on"]
        span = ["low_percent", "high_percent", "upper_limit_bpm"]
        self.helper.layout = Layout(
            *["submission_key", "seen_version", "confirmed"],
            HTML("<h2>Intensity</h2>"),
            Div("method", *test, css_class="four"),
            "tested_because",
            Div(*span, "upper_limit_reason", css_class="four"),
            Div("rpe_low", "rpe_high", css_class="four"),
            HTML("<h2>Work and time</h2>"),
            Div(
                "target_mets",
                "treadmill_grade_percent",
                "minutes",
                "per_week",
                css_class="four",
            ),
            "note",
        )

    def draft(self, enrolment: Enrolment) -> Prescription:
        """The typed inputs as an unsaved prescription; the service computes the ranges."""
        d = self.cleaned_data
        return Prescription(
            enrolment=enrolment,
            method=d["method"],
            valid_from=enrolment.patient.site.today(),
            resting_bpm=d["resting_bpm"],
            peak_bpm=d["peak_bpm"],
            tested_on=d["tested_on"],
            tested_because=d["tested_because"].strip(),
            low_share=_fraction(d["low_percent"]),
            high_share=_fraction(d["high_percent"]),
            upper_limit_bpm=d["upper_limit_bpm"],
            upper_limit_reason=d["upper_limit_reason"],
            rpe_low=d["rpe_low"],
            rpe_high=d["rpe_high"],
            target_mets=d["target_mets"],
            treadmill_grade_percent=d["treadmill_grade_percent"],
            minutes=d["minutes"],
            per_week=d["per_week"],
            note=d["note"],
        )


def _fraction(percent: float | None) -> float | None:
    return None if percent is None else percent / 100
