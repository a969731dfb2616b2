"""The session sheet as typed, turned into the domain's own values."""

from collections.abc import Collection
from typing import Any

from patients.calc.measuring import MMOL_L
from programs.attendance.calc.effort import Load
from programs.attendance.calc.questions import ASKED_AFTER, SEEN_DURING, Question
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.calc.workload import NAMES as WORKLOAD
from programs.attendance.calc.workload import SET_TO
from programs.attendance.sheet.parts import BOUT_FIELDS, ECTOPY, NONE, answers_of
from programs.attendance.visit.bouts import BOUTS


class SheetValues:
    """The reading half of the sheet's form; call after is_valid()."""

    cleaned_data: Any
    fields: Any
    stored: dict[str, Any]
    questions: list[Question]
    with_exercise: bool

    def sheet(self) -> Sheet:
        d = self.cleaned_data
        return Sheet(
            before=self._vitals("before"),
            during=self._vitals("during"),
            after=self._vitals("after"),
            recovery=self._vitals("recovery"),
            bouts=tuple(self._bout(place) for place in range(1, BOUTS + 1)),
            rhythm=self._rhythm(),
            minutes=d.get("minutes"),
            answers=self._answers(),
            symptoms=d.get("symptoms") or "",
            ketones=d.get("ketones") or "",
            last_meal_at=d.get("last_meal_at"),
            last_dose_at=d.get("last_dose_at"),
            left_early=d.get("left_early") or "",
            note=d.get("note") or "",
            has_ecg=d.get("has_ecg"),
            has_exercise_part=self.with_exercise,
            asked=frozenset(q.id for _, questions in self._asked() for q in questions),
        )

    def _asked(self) -> list[tuple[str, Collection[Question]]]:
        asked: list[tuple[str, Collection[Question]]] = [("before", self.questions)]
        if self.with_exercise:
            asked += [("during", SEEN_DURING), ("after", ASKED_AFTER)]
        return asked

    def _answers(self) -> dict[str, bool]:
        answers: dict[str, bool] = {}
        for name, questions in self._asked():
            given = self.cleaned_data.get(f"{name}_asked") or ""
            answers |= answers_of(questions, given, self.cleaned_data.get(f"{name}_ticks") or [])
        return answers

    def _rhythm(self) -> Rhythm:
        d = self.cleaned_data
        plain = {
            name: d.get(name)
            for name in Rhythm.__dataclass_fields__
            if name in self.fields and name not in ECTOPY
        }
        words = {name: d.get(name) or "" for name in ["st_change", "st_leads", "new_block"]}
        asked, ticks = d.get("monitor_asked") or "", d.get("monitor_ticks") or []
        seen = {name: (name in ticks) if asked or name in ticks else None for name in ECTOPY}
        if asked == NONE:
            words |= {"st_change": "none", "new_block": "none"}
        return Rhythm(
            before=d.get("rhythm_before") or "",
            during=d.get("rhythm_during") or "",
            **(plain | words | seen),
        )

    def _vitals(self, phase: str) -> Vitals:
        d = self.cleaned_data
        values = {
            name: d.get(f"{phase}_{name}")
            for name in Vitals.__dataclass_fields__
            if f"{phase}_{name}" in self.fields
        }
        for which in ["", "standing_"]:
            pair = d.get(f"{phase}_{which}pressure") or (None, None)
            values[f"{which}systolic_mmhg"], values[f"{which}diastolic_mmhg"] = pair
        return Vitals(**values, glucose_is_mmoll=self._is_mmoll(phase))

    def _is_mmoll(self, phase: str) -> bool:
        """What the meter showed: as stored while the value is untouched, else as typed."""
        name = f"{phase}_glucose_mgdl"
        value = self.cleaned_data.get(name)
        if value is None:
            return False
        if value == self.stored.get(name):
            return bool(self.stored.get(f"{phase}_glucose_is_mmoll"))
        field: Any = self.fields[name]
        return field.typed_in is MMOL_L

    def _bout(self, place: int) -> Load:
        d = self.cleaned_data
        systolic, diastolic = d.get(f"bout{place}_pressure") or (None, None)
        values = {name: d.get(f"bout{place}_{name}") for name in BOUT_FIELDS}
        activity = d.get(f"bout{place}_activity") or ""
        if activity in SET_TO:  # what the machine before was set to is none of this one's
            own = {name for name, _ in SET_TO[activity]}
            values |= dict.fromkeys(set(WORKLOAD) - own)
        return Load(
            activity=activity,
            exercise=d.get(f"bout{place}_exercise") or "",
            systolic_mmhg=systolic,
            diastolic_mmhg=diastolic,
            **values,
        )
