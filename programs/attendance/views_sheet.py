"""The session sheet of one visit: readings, exercise, recovery, and what the rules say."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients import audit
from patients.calc.limits import NotScorable, OutOfRange
from patients.forms import change_data
from patients.history import StaleVersion
from patients.submissions import AlreadyTaken
from programs.attendance import services
from programs.attendance.access import get_visit_for
from programs.attendance.calc.catalogue import N_RULES
from programs.attendance.calc.counting import why_not_counted
from programs.attendance.calc.effort import BoutEntry, Worked, dose_of, worked
from programs.attendance.calc.rules import Evaluation, in_words
from programs.attendance.calc.sheet import Background, Sheet
from programs.attendance.forms import About, SheetForm
from programs.attendance.forms_findings import AnswerForm, TakeBackForm, WriteUpForm
from programs.attendance.forms_stored import differences, initial_of
from programs.attendance.models import Reading, Visit
from programs.attendance.queries import day_of
from programs.attendance.queries_care import care_panel
from programs.attendance.queries_visit import (
    background_of,
    groups_of,
    merged_vitals,
    rules_for,
    stored_sheet,
    with_detail,
)
from programs.attendance.services_counting import exercised_on
from programs.attendance.services_interruptions import unsettled
from programs.attendance.units import units_of
from programs.attendance.views import class_url, day_context
from programs.prescription.models import Prescription

State = Visit.State
WITH_EXERCISE = {State.EXERCISING, State.FINISHED, State.STOPPED}
STEPS = {"save", "start", "finish", "hold", "stop"}


@permission_required("attendance.view_visit", raise_exception=True)
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Show and save one person's sheet, in the class it belongs to."""
    user: Any = request.user
    visit, last = with_detail(get_visit_for(user, pk))
    record = background_of(visit)
    form = _form(request, visit, last, record)
    context: dict[str, Any] = {}
    if request.method == "POST":
        if not user.has_perm("attendance.add_visit"):
            raise PermissionDenied
        done = _save(request, visit, form, context)
        if done is not None:
            return done
    else:
        audit.look(visit.enrolment.patient, "session sheet", by=user)
    return show(request, visit, form, last, record, context)


def show(
    request: HttpRequest,
    visit: Visit,
    form: SheetForm,
    last: Visit | None,
    record: Background,
    more: dict[str, Any],
) -> HttpResponse:
    return render(
        request, "attendance/today.html", _context(request, visit, form, last, record) | more
    )


def opened(request: HttpRequest, visit: Visit, **more: Any) -> HttpResponse:
    """The stored sheet again, with a form beside it that was refused."""
    visit, last = with_detail(visit)
    record = background_of(visit)
    return show(request, visit, _stored_form(request, visit, last, record), last, record, more)


def about_of(request: HttpRequest, visit: Visit, record: Background) -> About:
    return About(
        groups=groups_of(record),
        last_weight_kg=record.last_weight_kg,
        **units_of(request, visit.enrolment.patient.site),
    )


def _form(request: HttpRequest, visit: Visit, last: Visit | None, record: Background) -> SheetForm:
    return _stored_form(request, visit, last, record, request.POST or None)


def _stored_form(
    request: HttpRequest, visit: Visit, last: Visit | None, record: Background, data: Any = None
) -> SheetForm:
    about = about_of(request, visit, record)
    initial = initial_of(visit, about.groups)
    if request.GET.get("repeat"):
        initial = {k: v for k, v in initial.items() if not _is_reading_before(k)}
        initial["is_repeat"] = True
    return SheetForm(
        data,
        initial=initial,
        version=visit.version,
        with_exercise=shows_exercise(visit),
        plan=planned_bouts(visit, last),
        about=about,
    )


def _is_reading_before(name: str) -> bool:
    return name.startswith("before_") and name not in {"before_asked", "before_ticks"}


def shows_exercise(visit: Visit) -> bool:
    """Exercise has begun, or something of it is on record."""
    has_any = bool(visit.bouts.all()) or visit.minutes is not None
    return visit.state in WITH_EXERCISE or has_any


def planned_bouts(visit: Visit, last: Visit | None) -> list[BoutEntry]:
    """What to train today: the last session's workloads, else the prescription's."""
    done = stored_sheet(last).bouts if last else ()
    if done:
        return [
            replace(b, heart_rate_bpm=None, systolic_mmhg=None, diastolic_mmhg=None,
                    spo2_percent=None, rpe=None, angina=None, dyspnoea=None)
            for b in done
        ]  # fmt: skip
    dose = visit.enrolment.prescriptions.in_force().first()
    if dose is None:
        return []
    half = dose.minutes // 2
    plan = []
    if dose.treadmill_kmh is not None:
        plan.append(BoutEntry("treadmill", half, dose.treadmill_kmh, dose.treadmill_grade_percent))
    if dose.cycle_w is not None:
        plan.append(BoutEntry("cycle", half, power_w=dose.cycle_w))
    return plan


def _save(
    request: HttpRequest, visit: Visit, form: SheetForm, context: dict[str, Any]
) -> HttpResponse | None:
    """Save and redirect, or leave what to show in ``context`` and the form."""
    user: Any = request.user
    step = request.POST.get("step", "save")
    if form.is_valid():
        form.check_step(step)
    if not form.is_valid() or step not in STEPS:
        return None
    try:
        result = services.save_sheet(
            visit,
            form.sheet(),
            step,
            seen=form.seen,
            key=form.key,
            by=user,
            is_repeat=form.cleaned_data["is_repeat"],
        )
    except AlreadyTaken:
        return redirect("attendance:sheet", visit.pk)
    except StaleVersion:
        fresh, _ = with_detail(get_visit_for(user, visit.pk))
        context["both"] = differences(form, initial_of(fresh, form.about.groups))
        change_data(form, seen_version=str(fresh.version))
        return None
    except ValidationError as error:
        form.add_error(None, error)
        return None
    return _after(request, result, step)


def _after(request: HttpRequest, result: services.SheetResult, step: str) -> HttpResponse:
    """Say what was saved; back to the class when this person needs nothing more now."""
    visit = result.visit
    draft = f"visit-{visit.pk}-"  # what the browser kept is stored now and may go
    here = reverse("attendance:sheet", args=[visit.pk])
    if result.barred_by:
        words = "Saved. Answer the finding before going on."
        messages.warning(request, words, extra_tags=draft)
        return redirect(here)
    words = f"{visit.enrolment.patient}: saved, {visit.get_state_display()}."
    is_clean = not any(f.is_open for f in visit.findings.all())
    if is_clean and step == "save" and visit.state == State.ARRIVED:
        words += " No configured rule triggered"
        if result.missing:
            words += f"; not checked for want of: {'; '.join(result.missing)}"
        words += "."
    messages.success(request, words, extra_tags=draft)
    if step == "finish" and not visit.sessions_counted:
        messages.warning(request, _why_not(visit))
    stays = step in {"hold", "stop"} or not is_clean or visit.state != State.ARRIVED
    if step in {"start", "finish"} or not stays:
        return redirect(class_url(visit.meeting))
    return redirect(here)


def _why_not(visit: Visit) -> str:
    exercised = exercised_on(visit.enrolment, visit.on)
    return why_not_counted(visit.minutes or 0, has_exercised=exercised)


def _context(
    request: HttpRequest, visit: Visit, form: SheetForm, last: Visit | None, record: Background
) -> dict[str, Any]:
    day = day_of(visit.enrolment.patient.site, visit.on, visit.meeting.slot_id)
    row = next((r for r in day.rows if r.visit is not None and r.visit.pk == visit.pk), None)
    dose = row.prescription if row else None
    judged, typed = _judged(visit, form, record)
    written = [i for i in visit.interruptions.all() if not i.is_taken_back]
    standing = [f for f in visit.findings.all() if f.cleared_at is None]
    return (
        day_context(request, day)
        | {
            "opened": visit,
            "form": form,
            "last": last,
            "last_before": merged_vitals(before_of(last)) if last else None,
            "earlier_readings": list(visit.readings.all()),
            "dose": dose,
            "row": row,
            "missing": in_words(judged.missing) if judged else [],
            "plan": form.plan,
            "standing": standing,
            "answer_form": AnswerForm(visit=visit),
            "cleared": [f for f in visit.findings.all() if f.cleared_at is not None],
            "n_rules": N_RULES,
            "earlier_stops": unsettled(visit) if record.was_interrupted else [],
            "write_up": WriteUpForm(row=written[0]) if written else None,
            "interruption": written[0] if written else None,
            "take_back": TakeBackForm(initial={"seen_version": visit.version})
            if visit.has_ended
            else None,
            "why_not_counted": _why_not(visit)
            if visit.state in {State.FINISHED, State.STOPPED} and not visit.sessions_counted
            else "",
            "care": care_panel(visit, record, form.about.shows_mmoll),
        }
        | worked_context(typed, record, dose)
    )


def worked_context(
    typed: Sheet | None, record: Background, dose: Prescription | None
) -> dict[str, Any]:
    """What the bouts come to, and how they lie beside the prescription."""
    if typed is None:
        return {"worked": [], "total": None}
    weight = typed.before.weight_kg or record.last_weight_kg
    heart = (dose.low_bpm, dose.high_bpm) if dose else (None, None)
    effort = (dose.rpe_low, dose.rpe_high) if dose else (None, None)
    rows: list[Worked] = worked(typed.done, weight, heart, effort)
    total = dose_of([(b.activity, b.minutes, b.mets) for b in rows], weight) if rows else None
    return {"worked": rows, "total": total}


def before_of(visit: Visit) -> list[Reading]:
    return [reading for reading in visit.readings.all() if reading.phase == Reading.Phase.BEFORE]


def _judged(
    visit: Visit, form: SheetForm, record: Background
) -> tuple[Evaluation | None, Sheet | None]:
    """The rules over what is in the form: as typed when it was sent, else as stored."""
    if form.is_bound:
        form.is_valid()
        typed = form.sheet()
    else:
        typed = stored_sheet(visit)
    try:
        return services.judge(visit, typed, record, rules_for(visit.enrolment.patient)), typed
    except (OutOfRange, NotScorable):
        return None, None


@require_POST
@permission_required("attendance.view_visit", raise_exception=True)
def live(request: HttpRequest, pk: int) -> HttpResponse:
    """What the rules say about values being typed. Stores nothing."""
    visit = get_visit_for(request.user, pk)
    record = background_of(visit)
    form = SheetForm(
        request.POST,
        initial=initial_of(visit, groups_of(record)),
        with_exercise=True,
        plan=[],
        about=about_of(request, visit, record),
    )
    judged, typed = _judged(visit, form, record)
    dose = visit.enrolment.prescriptions.in_force().first()
    context = {
        "judged": judged,
        "missing": in_words(judged.missing) if judged else [],
        "field_errors": form.errors,
        "fields": [(form.fields[name].label, e) for name, e in form.errors.items()
                   if name in form.fields],
        "n_rules": N_RULES,
    }  # fmt: skip
    context |= worked_context(typed, record, dose)
    return render(request, "attendance/_live.html", context)
