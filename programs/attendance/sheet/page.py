"""What the page of one session sheet shows: its form, what the rules say, what stands around it."""

from typing import Any

from django.urls import reverse
from django.utils import timezone

from patients.calc.limits import NotScorable, OutOfRange
from patients.prepared import Prepared
from programs.attendance.calc.catalogue import N_RULES
from programs.attendance.calc.counting import why_not_counted
from programs.attendance.calc.effort import Worked, volume_of, worked
from programs.attendance.calc.low_glucose import FIRST_GRAMS
from programs.attendance.calc.rules import Evaluation, in_words, with_rules
from programs.attendance.calc.sheet import Sheet
from programs.attendance.calc.situation import Known
from programs.attendance.care.forms import CarbohydrateForm, RecheckForm
from programs.attendance.care.queries import care_panel
from programs.attendance.findings.forms import (
    AnswerForm,
    NotTakenForm,
    TakeBackForm,
    WriteUpForm,
)
from programs.attendance.findings.interruptions import unsettled
from programs.attendance.findings.known import known_of
from programs.attendance.findings.not_taken import DECIDES, lacking_at
from programs.attendance.findings.services import judge
from programs.attendance.limits.queries import rules_for
from programs.attendance.models import NotTaken, Reading, Visit
from programs.attendance.sheet.about import About
from programs.attendance.sheet.forms import SheetForm
from programs.attendance.sheet.heads import heads_of
from programs.attendance.sheet.sections import BEFORE, asked_for, open_sections
from programs.attendance.sheet.stored import initial_of
from programs.attendance.today.lines import alerts_of, may_undo_stop, now_words, strip_of
from programs.attendance.today.queries import beside_sheet
from programs.attendance.today.views import day_context
from programs.attendance.visit.bouts import planned_bouts
from programs.attendance.visit.counting import exercised_on
from programs.attendance.visit.forms import ArrivalForm
from programs.attendance.visit.queries import merged_vitals, stored_sheet
from programs.prescription.models import Prescription
from programs.staff.models import User
from programs.staff.request import StaffRequest
from programs.staff.units import units_of

State = Visit.State
UNDOES: dict[str, str] = {State.HELD: "hold", State.STOPPED: "stop", State.FINISHED: "finish"}
WITH_EXERCISE = {State.EXERCISING, State.FINISHED, State.STOPPED}


def about_of(
    request: StaffRequest, visit: Visit, record: Known, last: Visit | None = None
) -> About:
    return About(
        groups=record.groups,
        last_weight_kg=record.last_weight_kg,
        last=merged_vitals(before_of(last)) if last else None,
        units=units_of(request.user, visit.enrolment.patient.site),
    )


def sheet_form(
    request: StaffRequest, visit: Visit, last: Visit | None, record: Known, data: Any = None
) -> SheetForm:
    about = about_of(request, visit, record, last)
    initial = initial_of(visit, about.groups)
    plan, with_exercise = planned_bouts(visit, last), shows_exercise(visit)
    shown = open_sections(visit, len(plan), with_exercise=with_exercise)
    shown = asked_for(request.GET.getlist("correct"), visit, shown)
    if request.GET.get("repeat"):
        shown = frozenset([BEFORE])
        initial = {k: v for k, v in initial.items() if not _is_reading_before(k)}
        initial["is_repeat"] = True
    if visit.has_ecg is None and last is not None and BEFORE in shown:
        initial["has_ecg"] = last.has_ecg  # as last time; saving confirms it
    return SheetForm(
        data,
        initial=initial,
        version=visit.version,
        with_exercise=with_exercise,
        plan=plan,
        about=about,
        shown=shown,
    )


def _is_reading_before(name: str) -> bool:
    return name.startswith("before_") and name not in {"before_asked", "before_ticks"}


def shows_exercise(visit: Visit) -> bool:
    """Exercise has begun, or something of it is on record."""
    has_any = bool(visit.bouts.all()) or visit.minutes is not None
    return visit.state in WITH_EXERCISE or has_any


def before_of(visit: Visit) -> list[Reading]:
    return [reading for reading in visit.readings.all() if reading.phase == Reading.Phase.BEFORE]


def judged_sheet(
    visit: Visit, form: SheetForm, record: Known
) -> tuple[Evaluation | None, Sheet | None]:
    """The rules over what is in the form: as typed when it was sent, else as stored."""
    if form.is_bound:
        form.is_valid()
        typed = form.sheet()
    else:
        typed = stored_sheet(visit)
    try:
        return judge(visit, typed, record, rules_for(visit.enrolment.patient)), typed
    except (OutOfRange, NotScorable):
        return None, None


def worked_context(typed: Sheet | None, record: Known, dose: Prescription | None) -> dict[str, Any]:
    """What the bouts come to, and how they lie beside the prescription."""
    if typed is None:
        return {"worked": [], "total": None}
    weight = typed.before.weight_kg or record.last_weight_kg
    heart = (dose.low_bpm, dose.high_bpm) if dose else (None, None)
    effort = (dose.rpe_low, dose.rpe_high) if dose else (None, None)
    rows: list[Worked] = worked(typed.done, weight, heart, effort)
    total = volume_of([(b.activity, b.minutes, b.mets) for b in rows], weight) if rows else None
    return {"worked": rows, "total": total}


def without_form(visit: Visit, step: str, data: Any = None, *, by: User) -> NotTakenForm | None:
    """Reasons for what a step would pass by; None for another step, or when nothing is lacking."""
    if step not in NotTaken.Step.values:
        return None
    rules = rules_for(visit.enrolment.patient)
    is_over = step == NotTaken.Step.FINISH
    judged = judge(visit, stored_sheet(visit), known_of(visit), rules, is_over=is_over)
    lacking = lacking_at(visit, judged.missing, step)
    if not lacking:
        return None
    return NotTakenForm(
        data,
        step=step,
        lacking=lacking,
        may_decide=by.has_perm(DECIDES),
        version=visit.version,
    )


def checked_context(
    form: SheetForm,
    judged: Evaluation | None,
    typed: Sheet | None,
    record: Known,
    dose: Prescription | None,
) -> dict[str, Any]:
    """What the rules say of the values in the form, and what is wrong with them."""
    named = [(form.fields[n].label, e) for n, e in form.errors.items() if n in form.fields]
    return {
        "judged": judged,
        "missing": in_words(judged.missing) if judged else [],
        "fields": named,
        "missing_for": with_rules(judged.missing) if judged else [],
        "rules_checked": f"{N_RULES} rules are configured",
    } | worked_context(typed, record, dose)


_NOT_TAKEN = Prepared(
    lambda visit: NotTaken.objects.filter(visit=visit).select_related("by"), visit=int
)
ON_RECORD = {
    "has_heart_failure": "heart failure",
    "has_diabetes": "diabetes",
    "uses_insulin": "insulin or secretagogue",
    "has_icd": "defibrillator",
    "entry_answers": "entry screen",
}


def on_record(record: Known) -> list[str]:
    """What is known of the person that the rules read, each with where it was written."""
    told = [(name, record.where.get(key, "")) for key, name in ON_RECORD.items()]
    return [f"{name} ({where})" for name, where in told if where]


def why_not(visit: Visit) -> str:
    exercised = exercised_on(visit.enrolment, visit.on)
    return why_not_counted(visit.minutes or 0, has_exercised=exercised)


def context_of(
    request: StaffRequest, visit: Visit, form: SheetForm, last: Visit | None, record: Known
) -> dict[str, Any]:
    day = beside_sheet(visit)
    row = next((r for r in day.rows if r.visit is not None and r.visit.pk == visit.pk), None)
    judged, typed = judged_sheet(visit, form, record)
    may_write = request.user.has_perm("attendance.add_visit")
    address = reverse("attendance:sheet", args=[visit.pk])
    form.lay_out(heads_of(visit, address, with_exercise=form.with_exercise, may_write=may_write))
    standing = [f for f in visit.findings.all() if f.cleared_at is None]
    # Past by what is in the form, and still open: somebody who may has to settle it. What cannot be
    # read, or was not taken, refutes nothing.
    now = {f.subject for f in judged.findings} if judged and not form.errors else None
    past = {f.pk for f in standing if now is not None and (f.rule_id, f.about) not in now}
    return (
        day_context(request, day)
        | {
            "opened": visit,
            "strip": strip_of(day.rows, visit.pk),
            "alerts": alerts_of(row) if row else [],
            "bar_now": now_words(row) if row else visit.get_state_display(),
            "may_stop_back": may_undo_stop(visit),
            "is_first_save": visit.state == State.ARRIVED and not visit.readings.all(),
            "form": form,
            "last": last,
            "last_before": merged_vitals(before_of(last)) if last else None,
            "earlier_readings": list(visit.readings.all()),
            "dose": visit.dose,
            "row": row,
            "standing": standing,
            "past": past,
            "on_record": on_record(record),
            "cleared": [f for f in visit.findings.all() if f.cleared_at is not None],
            "earlier_stops": unsettled(visit) if record.was_interrupted else [],
            "undoes": UNDOES.get(visit.state, ""),
            "why_not_counted": why_not(visit)
            if visit.state in Visit.EXERCISED and not visit.sessions_counted
            else "",
            "without": without_form(visit, request.GET.get("without", ""), by=request.user),
            "not_taken": _NOT_TAKEN(visit=visit.pk),
            "care": care_panel(visit, record),
        }
        | _forms_beside(visit, form)
        | checked_context(form, judged, typed, record, visit.dose)
    )


def _forms_beside(visit: Visit, form: SheetForm) -> dict[str, Any]:
    """The small forms around the sheet: decisions, arrival, a low glucose."""
    written = next((i for i in visit.interruptions.all() if not i.is_taken_back), None)
    seen = {"seen_version": visit.version}
    came = visit.arrived_at and {"at": timezone.localtime(visit.arrived_at)} | seen
    return {
        "answer_form": AnswerForm(visit=visit),
        "interruption": written,
        "write_up": WriteUpForm(row=written) if written else None,
        "take_back": TakeBackForm(initial=seen) if visit.has_ended else None,
        "arrival": ArrivalForm(initial=came) if came else None,
        "give": CarbohydrateForm(initial={"grams": FIRST_GRAMS}),
        "recheck": RecheckForm(units=form.about.units),
    }
