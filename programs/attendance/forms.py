"""The session sheet and the small forms around it."""

from typing import Any

from crispy_forms.layout import HTML, Div, Field, Layout
from django import forms

from patients.calc.limits import (
    BOUT_MINUTES,
    CYCLE_W,
    GLUCOSE_MGDL,
    GRADE_PERCENT,
    HEART_RATE_BPM,
    PVC_PER_MINUTE,
    QRS_MS,
    RPE,
    SESSION_MINUTES,
    SPO2_PERCENT,
    TREADMILL_KMH,
    WEIGHT_KG,
)
from patients.forms import (
    AsksTwiceForm,
    NumberField,
    PressureField,
    YesNoField,
    as_typed,
    plain_helper,
    with_units,
)
from programs.attendance.calc.sheet import BoutEntry, Rhythm, Sheet, Vitals
from programs.attendance.models import Bout, Finding

BOUTS = 4
BOUT_FIELDS = {
    "minutes": (BOUT_MINUTES, True),
    "speed_kmh": (TREADMILL_KMH, False),
    "grade_percent": (GRADE_PERCENT, False),
    "power_w": (CYCLE_W, False),
    "heart_rate_bpm": (HEART_RATE_BPM, True),
    "rpe": (RPE, True),
}
BOUT_LABELS = {
    "activity": "Activity",
    "minutes": "Min",
    "speed_kmh": "km/h",
    "grade_percent": "Grade %",
    "power_w": "Watts",
    "heart_rate_bpm": "HR",
    "pressure": "BP",
    "rpe": "RPE",
}


class SheetForm(AsksTwiceForm):
    """Before, exercise, after. Exercise and after appear once exercise has begun."""

    is_repeat = forms.BooleanField(required=False, widget=forms.HiddenInput)
    # What this form shows, so that what it does not show is never taken for emptied.
    part = forms.ChoiceField(
        choices=[("before", ""), ("all", "")], required=False, widget=forms.HiddenInput
    )
    before_heart_rate_bpm = NumberField(HEART_RATE_BPM, whole=True)
    before_pressure = PressureField()
    before_spo2_percent = NumberField(SPO2_PERCENT, whole=True, label="SpO₂")
    before_weight_kg = NumberField(WEIGHT_KG)
    before_glucose_mgdl = NumberField(GLUCOSE_MGDL)
    has_new_symptoms = YesNoField(label="New symptoms?")
    symptoms = forms.CharField(max_length=200, required=False, label="Which?")
    pvc_per_minute = NumberField(PVC_PER_MINUTE, whole=True, label="PVCs per minute")
    has_couplets = YesNoField(label="Couplets", unanswered="not noted")
    has_triplets = YesNoField(label="Triplets", unanswered="not noted")
    qrs_before_ms = NumberField(QRS_MS, whole=True, label="QRS before")
    qrs_during_ms = NumberField(QRS_MS, whole=True, label="QRS during")
    after_heart_rate_bpm = NumberField(HEART_RATE_BPM, whole=True)
    after_pressure = PressureField()
    after_spo2_percent = NumberField(SPO2_PERCENT, whole=True, label="SpO₂")
    after_glucose_mgdl = NumberField(GLUCOSE_MGDL)
    has_ecg = YesNoField(label="Continuous ECG", unanswered="not noted")
    minutes = NumberField(SESSION_MINUTES, whole=True, label="Session minutes")
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(
        self, *args: Any, with_exercise: bool, plan: list[BoutEntry], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.stored = dict(self.initial)
        if self.is_bound and "part" in self.data:
            with_exercise = self.data["part"] == "all"
        self.initial["part"] = "all" if with_exercise else "before"
        self.with_exercise, self.plan = with_exercise, plan
        for place in range(1, BOUTS + 1):
            self._add_bout(place)
        self.helper.layout = self._layout()

    def _add_bout(self, place: int) -> None:
        planned = self.plan[place - 1] if place <= len(self.plan) else None
        prefix = f"bout{place}_"
        self.fields[prefix + "activity"] = forms.ChoiceField(
            choices=[("", "—"), *Bout.Activity.choices], required=False, label="Activity"
        )
        for name, (limit, whole) in BOUT_FIELDS.items():
            self.fields[prefix + name] = NumberField(limit, whole=whole, label=BOUT_LABELS[name])
        self.fields[prefix + "pressure"] = PressureField(label="BP")
        self.fields[prefix + "pressure"].widget.attrs.pop("placeholder")
        if planned is not None and not self.is_bound:
            for name in ["activity", "speed_kmh", "grade_percent", "power_w"]:
                self.initial.setdefault(prefix + name, as_typed(getattr(planned, name)))
            if planned.minutes:
                attrs = self.fields[prefix + "minutes"].widget.attrs
                attrs["placeholder"] = f"{planned.minutes}"

    def _layout(self) -> Layout:
        before = Div(
            HTML("<h3>Before</h3>"),
            Div(
                *with_units(self, "before_heart_rate_bpm", "before_pressure"),
                *with_units(self, "before_spo2_percent", "before_weight_kg"),
                *with_units(self, "before_glucose_mgdl"),
                *["has_new_symptoms", "symptoms"],
                css_class="fields",
            ),
            css_class="before",
        )
        hidden = ["submission_key", "seen_version", "confirmed", "is_repeat", "part"]
        if not self.with_exercise:
            return Layout(*hidden, before)
        return Layout(*hidden, before, self._exercise(), *self._during_and_after())

    def _exercise(self) -> Div:
        names = list(BOUT_LABELS)
        bouts = [
            Div(*[Field(f"bout{place}_{name}") for name in names], css_class="bout")
            for place in range(1, BOUTS + 1)
        ]
        return Div(
            HTML("<h3>Exercise</h3>"),
            Div(*bouts[:2], css_class="bouts"),
            HTML(f"<details{self._more_open()}><summary>More bouts</summary>"),
            Div(*bouts[2:], css_class="bouts"),
            HTML("</details>"),
            css_class="exercise",
        )

    def _during_and_after(self) -> list[Div]:
        return [
            Div(
                HTML("<h3>Seen on the monitor</h3>"),
                Div(
                    *["pvc_per_minute", "has_couplets", "has_triplets"],
                    *with_units(self, "qrs_before_ms", "qrs_during_ms"),
                    css_class="fields",
                ),
                css_class="monitor",
            ),
            Div(
                HTML("<h3>After</h3>"),
                Div(
                    *with_units(self, "after_heart_rate_bpm", "after_pressure"),
                    *with_units(self, "after_spo2_percent", "after_glucose_mgdl", "minutes"),
                    "has_ecg",
                    css_class="fields",
                ),
                "note",
                css_class="after",
            ),
        ]

    def _more_open(self) -> str:
        """The third and fourth bout show when something is in them."""
        names = ["bout3_activity", "bout3_minutes"]
        values = self.data if self.is_bound else self.initial
        return " open" if any(values.get(name) for name in names) else ""

    def unusual(self) -> list[str]:
        """As everywhere; and starting without a reading, or with new symptoms, is asked about."""
        found, data = super().unusual(), self.cleaned_data
        if self.data.get("step") == "start":
            if data.get("before_heart_rate_bpm") is None and not self.has_earlier("heart_rate_bpm"):
                found.append("no heart rate")
            if not self.typed_pressure() and not self.has_earlier("pressure"):
                found.append("no blood pressure")
            if data.get("has_new_symptoms"):
                found.append(f"new symptoms {data.get('symptoms') or ''}".strip())
        return found

    def has_earlier(self, name: str) -> bool:
        """A repeat need not measure again what is on record."""
        return bool(self.cleaned_data.get("is_repeat") and self.stored.get(f"before_{name}"))

    def typed_pressure(self) -> bool:
        return (self.cleaned_data.get("before_pressure") or (None, None))[0] is not None

    def check_step(self, step: str) -> None:
        """What finishing needs; called after is_valid()."""
        data = self.cleaned_data
        if step == "finish" and not data.get("minutes"):
            self.add_error("minutes", "How many minutes did the session last?")
        if step == "finish":
            for place, bout in enumerate(self.sheet().bouts, start=1):
                if bout.is_done and bout.minutes is None:
                    self.add_error(f"bout{place}_minutes", "How many minutes?")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for place in range(1, BOUTS + 1):
            pressure = data.get(f"bout{place}_pressure") or (None, None)
            typed = pressure[0] is not None or any(
                data.get(f"bout{place}_{name}") is not None
                for name in ["minutes", "heart_rate_bpm", "rpe"]
            )
            if typed and not data.get(f"bout{place}_activity"):
                self.add_error(f"bout{place}_activity", "Which activity?")
        return data

    def sheet(self) -> Sheet:
        """What was typed, as the domain's own values."""
        d = self.cleaned_data
        return Sheet(
            before=self._vitals("before"),
            after=self._vitals("after"),
            bouts=tuple(self._bout(place) for place in range(1, BOUTS + 1)),
            rhythm=Rhythm(**{name: d.get(name) for name in Rhythm.__dataclass_fields__}),
            minutes=d.get("minutes"),
            has_new_symptoms=d.get("has_new_symptoms"),
            symptoms=d.get("symptoms") or "",
            note=d.get("note") or "",
            has_ecg=d.get("has_ecg"),
            has_exercise_part=self.with_exercise,
        )

    def _vitals(self, phase: str) -> Vitals:
        d = self.cleaned_data
        systolic, diastolic = d.get(f"{phase}_pressure") or (None, None)
        return Vitals(
            d.get(f"{phase}_heart_rate_bpm"),
            systolic,
            diastolic,
            d.get(f"{phase}_spo2_percent"),
            d.get(f"{phase}_glucose_mgdl"),
            d.get(f"{phase}_weight_kg"),
        )

    def _bout(self, place: int) -> BoutEntry:
        d = self.cleaned_data
        systolic, diastolic = d.get(f"bout{place}_pressure") or (None, None)
        values = {name: d.get(f"bout{place}_{name}") for name in BOUT_FIELDS}
        return BoutEntry(
            activity=d.get(f"bout{place}_activity") or "",
            systolic_mmhg=systolic,
            diastolic_mmhg=diastolic,
            **values,
        )


class AnswerForm(forms.Form):
    decision = forms.ChoiceField(choices=Finding.Decision.choices)
    reason = forms.CharField(max_length=200)
    told = forms.CharField(max_length=80, required=False, label="Clinician told or deciding")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
