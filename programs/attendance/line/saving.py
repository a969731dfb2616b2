"""A line of the class table saved: through the sheet's form, rules, keys and locks."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import QueryDict
from django.urls import reverse
from django.utils import timezone

from patients.calc.measuring import QUANTITIES, Units
from patients.history import StaleVersion
from patients.submissions import AlreadyTaken, key_in
from programs.attendance.calc.levels import Level
from programs.attendance.calc.stages import Stage
from programs.attendance.calc.workload import NotAWorkload
from programs.attendance.findings.known import known_of
from programs.attendance.line.boxes import ASKED, LINE_BOXES, as_sent, fill_in, meanwhile, typed_in
from programs.attendance.models import Visit
from programs.attendance.sheet.about import About
from programs.attendance.sheet.forms import SheetForm
from programs.attendance.sheet.page import judged_sheet, shows_exercise, why_not
from programs.attendance.sheet.services import SheetResult, save_sheet
from programs.attendance.sheet.stored import initial_of
from programs.attendance.today.lines import Refused, Said
from programs.attendance.visit.access import get_visit_for
from programs.attendance.visit.bouts import begin_next, minutes_of
from programs.attendance.visit.queries import with_detail
from programs.attendance.visit.services import arrive
from programs.enrolment.models import PlannedSession
from programs.staff.models import User

State = Visit.State
TRIES = 2  # somebody else saves between reading and locking: once more with what is stored then
STEPS = frozenset({"arrive", "save", "start", "next", "finish", "hold"})


@dataclass(frozen=True)
class Posted:
    """What a line sent."""

    data: Mapping[str, Any]
    stage: Stage
    step: str
    place: str  # of the bout its boxes are about

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> "Posted":
        """Read a request.

        Raises
        ------
        ValidationError : an unknown step, or no part of the work.
        """
        step, place = str(data.get("step", "save")), str(data.get("place", "1"))
        try:
            stage = Stage(str(data.get("stage", "")))
        except ValueError as error:
            raise ValidationError("Nothing was saved: press a button of the line.") from error
        if step not in STEPS or place not in "123456" or len(place) != 1:
            raise ValidationError("Nothing was saved: press a button of the line.")
        return cls(data, stage, step, place)

    @property
    def units(self) -> Units:
        """The units the line was shown in."""
        return Units(*[q.unit(str(self.data.get(f"{q.key}_unit", ""))) for q in QUANTITIES])

    @property
    def is_filled(self) -> bool:
        """Something is typed, ticked or chosen; the rhythm offered as last time is not."""
        boxes = typed_in(self.data, self.stage, self.place)
        is_chosen = self.data.get("monitor", "") != self.data.get("was_monitor", "")
        return is_chosen or bool(boxes) or any(self.data.get(name) for name in ASKED)

    @property
    def was(self) -> dict[str, str]:
        """What stood in the boxes when the line was shown, by the sheet's names."""
        shown = {
            name.removeprefix("was_"): value
            for name, value in self.data.items()
            if name.startswith("was_")
        }
        return typed_in(shown, self.stage, self.place)


def save_line(planned: PlannedSession, posted: Posted, *, by: User) -> Said | Refused:
    """Check in whom a line is typed for, store what is in it, take its step.

    Refused, what was typed comes back with what is wrong with it; that somebody came is stored
    all the same.
    """
    try:
        visit = _visit_of(planned, posted, by=by)
        if posted.step == "arrive" and not posted.is_filled:
            return Said("fine", "Checked in")
        for _ in range(TRIES):
            try:
                return _save(planned, visit, posted, by=by)
            except StaleVersion:
                continue
        words = "Somebody else saves this visit at the same moment: press again."
        return _refused(planned, posted, Said("caution", words))
    except AlreadyTaken:
        return Said("fine", "Saved")
    except ValidationError as error:
        return _refused(planned, posted, Said("stop", " ".join(error.messages)))


def _visit_of(planned: PlannedSession, posted: Posted, *, by: User) -> Visit:
    """The visit of a line; typing into somebody's line is that they are here."""
    visit = Visit.objects.filter(
        enrolment=planned.enrolment_id, meeting__slot=planned.slot_id, meeting__on=planned.on
    ).first()
    waits = visit is None or visit.state == State.EXPECTED
    if waits and (posted.stage is Stage.CHECK_IN or posted.step == "arrive"):
        return arrive(planned, by=by)
    if visit is None or visit.state in {State.EXPECTED, State.ABSENT}:
        raise ValidationError("Check in first.")
    return visit


def _save(planned: PlannedSession, visit: Visit, posted: Posted, *, by: User) -> Said | Refused:
    visit, _ = with_detail(get_visit_for(by, visit.pk))
    if posted.is_filled and posted.stage is not Stage.CHECK_IN and not shows_exercise(visit):
        raise ValidationError(f"Not saved: this person is {visit.get_state_display()}.")
    form = _form(visit, posted)
    stored = as_sent(form)
    typed = typed_in(posted.data, posted.stage, posted.place)
    data = stored.copy()
    try:
        fill_in(data, posted.data, posted.stage, posted.place, posted.units)
    except NotAWorkload as error:
        return _refused(planned, posted, Said("stop", str(error)), ["bout_load"])
    if changed := meanwhile(stored, typed, posted.was):
        there = ", ".join(
            f"{form.fields[name].label} {stored[name]} (you typed {typed[name]})"
            for name in changed
        )
        alerts = _alerts(visit, _form(visit, posted, data))
        words = [
            f"Not saved: somebody else stored {there} meanwhile.",
            *alerts,
            "Open it to enter yours as a repeat reading, or empty the box.",
        ]
        said = _at_sheet("stop" if alerts else "caution", " ".join(words), visit)
        return _refused(planned, posted, said, changed)
    by_clock = _minutes_by_clock(visit) if posted.step in {"next", "finish"} else {}
    for name, minutes in by_clock.items():
        data[name] = minutes
    data["seen_version"] = str(visit.version)
    data["confirmed"] = str(posted.data.get("confirmed", ""))
    bound = _form(visit, posted, data)
    bound.is_valid()
    if posted.step == "finish":
        bound.check_step("finish")
    if bound.errors:
        return _not_valid(planned, visit, posted, bound)
    if posted.step == "finish" and by_clock:
        return _finish(visit, bound, posted, data, by_clock, by=by)
    return _said(_commit(visit, bound, posted, by=by), posted.step)


class _GoesOn(Exception):
    """Nothing is finished: what runs by the clock goes on."""


def _finish(
    visit: Visit,
    form: SheetForm,
    posted: Posted,
    data: QueryDict,
    by_clock: Mapping[str, str],
    *,
    by: User,
) -> Said:
    """Finish; where something keeps that from happening, all is saved but the bout runs on."""
    try:
        with transaction.atomic():
            result = _commit(visit, form, posted, by=by)
            if result.barred_by or result.lacking:
                raise _GoesOn
    except _GoesOn:
        again, _ = with_detail(get_visit_for(by, visit.pk))
        for name in by_clock:
            data.pop(name, None)
        going = _form(again, posted, data)
        going.is_valid()
        _commit(again, going, replace(posted, step="save"), by=by)
    return _said(result, posted.step)


@transaction.atomic
def _commit(visit: Visit, form: SheetForm, posted: Posted, *, by: User) -> SheetResult:
    """The sheet's own save; the next bout begins in the same transaction."""
    result = save_sheet(
        visit,
        form.sheet(),
        "save" if posted.step in {"next", "arrive"} else posted.step,
        seen=visit.version,
        key=key_in(posted.data),
        by=by,
    )
    if posted.step == "next":
        begin_next(result.visit, by=by)
    return result


def _form(visit: Visit, posted: Posted, data: Any = None) -> SheetForm:
    """The sheet of a visit in the units the line was shown in."""
    record = known_of(visit)
    about = About(
        groups=record.groups,
        last_weight_kg=record.last_weight_kg,
        units=posted.units,
    )
    return SheetForm(
        data,
        initial=initial_of(visit, about.groups),
        version=visit.version,
        with_exercise=shows_exercise(visit),
        plan=[],
        about=about,
    )


def _minutes_by_clock(visit: Visit) -> dict[str, str]:
    """How long each bout that runs has lasted until now."""
    now = timezone.now()
    running = [b for b in visit.bouts.all() if b.began_at is not None and b.minutes is None]
    return {f"bout{b.place}_minutes": str(minutes_of(b.began_at, now)) for b in running}


DONE = {
    "arrive": "Checked in, saved",
    "save": "Saved",
    "start": "Started",
    "next": "Next bout",
    "finish": "Finished",
    "hold": "Held. Document the hold",
}


def _said(result: SheetResult, step: str) -> Said:
    """What the press came to, and where to go when it did not go through."""
    visit = result.visit
    if result.barred_by:
        return _at_sheet("hold", "Saved. Answer the alert first.", visit)
    if result.lacking:
        names = ", ".join(one.what for one in result.lacking)
        words = f"Saved. Not taken yet: {names}."
        return _at_sheet("caution", words, visit, f"?without={step}", "Write why not")
    if step == "hold":
        return _at_sheet("caution", DONE[step], visit)
    if step == "finish" and not visit.sessions_counted:
        return _at_sheet("caution", f"Finished. {why_not(visit)}", visit)
    return Said("fine", DONE[step])


def _at_sheet(
    level: str, words: str, visit: Visit, query: str = "", link_words: str = "Open"
) -> Said:
    return Said(level, words, reverse("attendance:sheet", args=[visit.pk]) + query, link_words)


def _not_valid(planned: PlannedSession, visit: Visit, posted: Posted, form: SheetForm) -> Refused:
    """What the sheet's form has against it, the line's own boxes marked."""
    prefix = f"bout{posted.place}_"
    wrong = [name.replace(prefix, "bout_") for name in form.errors]
    words = [*_alerts(visit, form), *(str(errors[0]) for errors in form.errors.values())]
    said = _at_sheet("stop", " ".join(words), visit)
    confirmed = str(form.data.get("confirmed", ""))
    return _refused(planned, posted, said, wrong, confirmed)


def _alerts(visit: Visit, form: SheetForm) -> list[str]:
    """Holds and stops by what is typed: a question about one box keeps no alert back."""
    judged, _ = judged_sheet(visit, form, known_of(visit))
    found = judged.findings if judged is not None else ()
    return [f"{one.level.word.capitalize()}: {one.sentence}" for one in found
            if one.level >= Level.HOLD]  # fmt: skip


def _refused(
    planned: PlannedSession,
    posted: Posted,
    said: Said,
    wrong: Collection[str] = (),
    confirmed: str = "",
) -> Refused:
    boxes = {name: str(value) for name, value in posted.data.items() if name in LINE_BOXES}
    prefix = f"bout{posted.place}_"
    marked = frozenset(name.replace(prefix, "bout_") for name in wrong)
    return Refused(str(planned.pk), boxes, marked, said, confirmed)
