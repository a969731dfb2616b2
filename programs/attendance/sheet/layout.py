"""Where each box of the session sheet stands: the order of work is the order of Tab."""

from typing import Any

from crispy_forms.layout import HTML, Div, Layout

from programs.attendance.calc.effort import Load
from programs.attendance.sheet.about import About
from programs.attendance.sheet.parts import asked_layout, bout_layout, folded
from programs.attendance.visit.bouts import BOUTS

VITALS = "Resting vitals"


class SheetLayout:
    """The layout half of the sheet's form."""

    about: About
    plan: list[Load]
    with_exercise: bool
    is_bound: bool
    data: Any
    initial: Any
    stored: dict[str, Any]
    wants_glucose: bool
    errors: Any

    def _layout(self) -> Layout:
        hidden = ["submission_key", "seen_version", "confirmed", "is_repeat", "part"]
        hidden += ["glucose_unit", "weight_unit"]
        parts = [self._before()]
        if self.with_exercise:
            parts += [self._exercise(), self._monitor(), self._after()]
        known = [value for name, value in self.stored.items() if name not in {*hidden, "has_ecg"}]
        if any(value not in (None, "", [], False) for value in known):
            parts.append(Div("because", css_class="fields wide because"))
        return Layout(*hidden, *parts)

    def _before(self) -> Div:
        glucose = ["before_glucose_mgdl", "ketones", "last_meal_at", "last_dose_at"]
        first, more = (glucose, []) if self.wants_glucose else ([], glucose)
        more = ["before_standing_pressure", "before_temperature_c", "qrs_before_ms", *more]
        parts = [
            Div(
                "before_heart_rate_bpm",
                "before_pressure",
                "before_spo2_percent",
                "before_weight_kg",
                *first,
                css_class="fields",
            ),
            asked_layout("before"),
            Div("symptoms", "has_ecg", "rhythm_before", css_class="fields"),
            *folded(
                "More readings",
                Div(*more, css_class="fields"),
                is_open=self._has_any(more),
            ),
        ]
        if not self.with_exercise:
            return Div(HTML(f"<h2>{VITALS}</h2>"), *parts, css_class="before")
        return Div(*folded(VITALS, *parts, is_open=self._is_refused()), css_class="before")

    def _is_refused(self) -> bool:
        """What was refused is never folded away."""
        return bool(self.is_bound and self.errors)

    def _exercise(self) -> Div:
        shown = max(2, min(len(self.plan), BOUTS))
        later = [f"bout{n}_{name}" for n in range(shown + 1, BOUTS + 1)
                 for name in ("activity", "minutes")]  # fmt: skip
        box = Div("during_glucose_mgdl", css_class="fields")
        is_open = self.wants_glucose or self._has_any(["during_glucose_mgdl"])
        glucose = [box] if is_open else folded("Glucose in exercise", box, is_open=False)
        rows = [bout_layout(place) for place in range(1, BOUTS + 1)]
        return Div(
            HTML("<h2>Exercise</h2>"),
            Div(*rows[:shown], css_class="bouts"),
            *folded(
                "More bouts",
                Div(*rows[shown:], css_class="bouts"),
                is_open=self._has_any(later),
            ),
            *glucose,
            asked_layout("during"),
            css_class="exercise",
        )

    def _monitor(self) -> Div:
        return Div(
            HTML("<h2>Monitor</h2>"),
            Div(
                *["rhythm_during", "pvc_per_minute", "qrs_during_ms"],
                css_class="fields",
            ),
            Div(
                *asked_layout("monitor").fields,
                Div(
                    *["run_beats", "run_rate_bpm", "st_change", "st_mm"],
                    *["st_leads", "has_q_wave", "new_block"],
                    css_class="fields ticks",
                ),
                css_class="asked",
            ),
            css_class="monitor",
        )

    def _after(self) -> Div:
        return Div(
            HTML("<h2>After exercise</h2>"),
            Div(
                "after_heart_rate_bpm",
                "after_pressure",
                "after_spo2_percent",
                "after_glucose_mgdl",
                "after_rpe",
                css_class="fields",
            ),
            HTML("<h2>Recovery, before leaving</h2>"),
            Div(
                "recovery_heart_rate_bpm",
                "recovery_pressure",
                "recovery_spo2_percent",
                "recovery_glucose_mgdl",
                "recovery_angina",
                css_class="fields",
            ),
            asked_layout("after"),
            Div("minutes", "left_early", css_class="fields"),
            "note",
            css_class="after",
        )

    def _has_any(self, names: list[str]) -> bool:
        values = self.data if self.is_bound else self.initial
        return any(values.get(name) for name in names)
