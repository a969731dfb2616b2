"""Where each box of the session sheet stands: the order of work is the order of Tab.

Before, exercise and after stand side by side; the part at hand has the width and the boxes, a part
that is done tells its values.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from crispy_forms.layout import HTML, Div, Layout, LayoutObject
from django.utils.html import format_html
from django.utils.safestring import SafeString

from patients.forms import change_data
from programs.attendance.calc.effort import Load
from programs.attendance.sheet import told
from programs.attendance.sheet.about import About
from programs.attendance.sheet.parts import asked_layout, bout_layout, folded
from programs.attendance.sheet.sections import (
    AFTER,
    ALWAYS,
    BEFORE,
    EVERY_BOUT,
    EXERCISE,
    section_of,
    written,
)

GLUCOSE = ["before_glucose_mgdl", "ketones", "last_meal_at", "last_dose_at"]
VITALS = ["before_heart_rate_bpm", "before_pressure", "before_spo2_percent", "before_weight_kg"]
MORE = ["before_standing_pressure", "before_temperature_c", "qrs_before_ms"]
TOLD_BEFORE = [*VITALS, *GLUCOSE, "before_asked", "symptoms", "has_ecg", "rhythm_before", *MORE]
MONITOR = ["rhythm_during", "pvc_per_minute", "qrs_during_ms"]
SEEN = ["run_beats", "run_rate_bpm", "st_change", "st_mm", "st_leads", "has_q_wave", "new_block"]
TOLD_EXERCISE = ["during_glucose_mgdl", "during_asked", *MONITOR, "monitor_asked", *SEEN]
ENDED = ["after_heart_rate_bpm", "after_pressure", "after_spo2_percent", "after_rpe"]
RECOVERED = ["recovery_heart_rate_bpm", "recovery_pressure", "recovery_spo2_percent"]
AFTER_GLUCOSE = ["after_glucose_mgdl", "recovery_glucose_mgdl"]
TOLD_AFTER = [*ENDED, *RECOVERED, "recovery_angina", *AFTER_GLUCOSE, "after_asked", "minutes",
              "left_early", "note"]  # fmt: skip


@dataclass(frozen=True)
class Head:
    """The head of a part: what it is called, when it was, where its boxes are if not here."""

    title: str
    when: str
    state: str  # "done", "now" or "later"
    correct: str = ""  # address to which the name of a section is added

    def drawn(self, section: str, *, has_boxes: bool) -> SafeString:
        link = SafeString("")
        if self.correct and not has_boxes:
            words = "Correct" if self.state == "done" else "Enter"
            link = format_html('<a href="{}{}">{}</a>', self.correct, section, words)
        return format_html(
            '<h2><i class="part {}" aria-hidden="true"></i><span>{}</span> '
            "<small>{}</small>{}</h2>",
            self.state,
            self.title,
            self.when,
            link,
        )


class Drawn(LayoutObject):
    """What is drawn already, between boxes."""

    def __init__(self, html: SafeString) -> None:
        self.html = html
        self.fields: list[str] = []

    def render(self, form: Any, context: Any, **kwargs: Any) -> SafeString:
        return self.html


class SheetLayout:
    """The layout half of the sheet's form."""

    about: About
    plan: list[Load]
    with_exercise: bool
    is_bound: bool
    data: Any
    initial: Any
    stored: dict[str, Any]
    shown: frozenset[str]
    wants_glucose: bool
    helper: Any
    errors: Any
    fields: Any

    def lay_out(self, heads: Mapping[str, Head]) -> None:
        """Place the boxes of the sections that are shown, and what the others hold in words.

        Call it once nothing more is found wrong: a section with an error stands open.
        """
        wrong = {section_of(name) for name in self.errors if name in self.fields} - {
            "",
            *self.shown,
        }
        if wrong:
            self.shown |= wrong
            form: Any = self
            change_data(form, shows=written(self.shown))
        parts = [
            self._part(BEFORE, heads[BEFORE], self._before),
            self._part(EXERCISE, heads[EXERCISE], self._exercise),
            self._part(AFTER, heads[AFTER], self._after),
        ]
        at = next((key for key, head in heads.items() if head.state == "now"), "")
        beside = Div(*parts, css_class=f"stages-beside at-{at or 'end'}")
        hidden = sorted(ALWAYS - {"because"})
        self.helper.layout = Layout(*hidden, beside)

    def _because(self, section: str) -> list[str]:
        """Where something on record stands in a box, one part shown asks why it changes."""
        if section != next(one for one in (EXERCISE, AFTER, BEFORE) if self._has_boxes(one)):
            return []
        known = [
            value
            for name, value in self.stored.items()
            if name != "has_ecg" and section_of(name) in self.shown
        ]
        has_any = any(value not in (None, "", [], False) for value in known)
        return ["because"] if has_any or "because" in self.errors else []

    def _has_boxes(self, section: str) -> bool:
        bouts = section == EXERCISE and bool(self.shown & set(EVERY_BOUT))
        return section in self.shown or bouts

    def _part(self, section: str, head: Head, boxes: Any) -> Div:
        has_boxes = self._has_boxes(section)
        because = self._because(section) if has_boxes else []
        css = f"stage {section} {head.state}" + (" open" if has_boxes else "")
        return Div(
            Drawn(head.drawn(section, has_boxes=has_boxes)), *boxes(head), *because, css_class=css
        )

    def _before(self, head: Head) -> list[Any]:
        if BEFORE not in self.shown:
            return [Drawn(told.drawn(told.told(self, TOLD_BEFORE)))]
        first, more = (GLUCOSE, []) if self.wants_glucose else ([], GLUCOSE)
        more = [*MORE, *more]
        return [
            Div(*VITALS, *first, css_class="fields"),
            asked_layout("before"),
            Div("symptoms", "has_ecg", "rhythm_before", css_class="fields"),
            *folded(
                "More readings",
                Div(*more, css_class="fields"),
                is_open=self._has_any(more),
            ),
        ]

    def _exercise(self, head: Head) -> list[Any]:
        if not self.with_exercise:
            return [Drawn(told.planned(self.plan, self.about.units))]
        over = [one for one in EVERY_BOUT if one not in self.shown and self._has_bout(one)]
        rows = [bout_layout(int(one[-1])) for one in EVERY_BOUT if one in self.shown]
        bouts = [Drawn(told.bouts_drawn(self, over, head.correct))]
        bouts += [Div(*rows, css_class="bouts")] if rows else []
        if EXERCISE in self.shown:
            return [*bouts, *self._signs()]
        return [*bouts, Drawn(told.drawn(told.told(self, TOLD_EXERCISE)))]

    @property
    def told_minutes(self) -> int:
        """Minutes of the bouts that stand in values."""
        over = [one for one in EVERY_BOUT if one not in self.shown]
        return sum(self.stored.get(f"{one}_minutes") or 0 for one in over)

    def _has_bout(self, prefix: str) -> bool:
        return bool(self.stored.get(f"{prefix}_activity"))

    def _signs(self) -> list[Any]:
        box = Div("during_glucose_mgdl", css_class="fields")
        is_open = self.wants_glucose or self._has_any(["during_glucose_mgdl"])
        return [
            asked_layout("during"),
            Div(
                Div(*MONITOR, css_class="fields"),
                Div(
                    *asked_layout("monitor").fields,
                    Div(*SEEN, css_class="fields ticks"),
                    css_class="asked",
                ),
                css_class="monitor",
            ),
            *([box] if is_open else folded("Glucose in exercise", box, is_open=False)),
        ]

    def _after(self, head: Head) -> list[Any]:
        if AFTER not in self.shown:
            if not self.with_exercise:
                return []
            return [Drawn(told.drawn(told.told(self, TOLD_AFTER)))]
        glucose = Div(*AFTER_GLUCOSE, css_class="fields")
        is_open = self.wants_glucose or self._has_any(AFTER_GLUCOSE)
        return [
            HTML("<h3>At the end</h3>"),
            Div(*ENDED, css_class="fields"),
            HTML("<h3>Recovery, before leaving</h3>"),
            Div(*RECOVERED, "recovery_angina", css_class="fields"),
            *([glucose] if is_open else folded("Glucose", glucose, is_open=False)),
            asked_layout("after"),
            Div("minutes", "left_early", css_class="fields"),
            "note",
        ]

    def _has_any(self, names: list[str]) -> bool:
        values = self.data if self.is_bound else self.initial
        return any(values.get(name) for name in names)
