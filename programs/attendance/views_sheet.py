"""The session sheet of one visit: readings, exercise, findings."""

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
from programs.attendance import services, services_findings
from programs.attendance.access import get_finding_for, get_visit_for
from programs.attendance.calc.counting import why_not_counted
from programs.attendance.calc.rules import RULES, in_words
from programs.attendance.calc.sheet import BoutEntry
from programs.attendance.forms import AnswerForm, SheetForm
from programs.attendance.forms_stored import differences, initial_of
from programs.attendance.models import Reading, Visit
from programs.attendance.queries import day_of
from programs.attendance.queries_visit import background_of, merged_vitals, with_detail
from programs.attendance.services_counting import exercised_on
from programs.attendance.views import class_url, day_context

State = Visit.State
WITH_EXERCISE = {State.EXERCISING, State.FINISHED, State.STOPPED}
N_RULES = len({rule.id for rule in RULES})
STEPS = {"save", "start", "finish", "hold", "stop"}


@permission_required("attendance.view_visit", raise_exception=True)
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Show and save one person's sheet, in the class it belongs to."""
    user: Any = request.user
    visit, last = with_detail(get_visit_for(user, pk))
    form = _form(request, visit, last)
    context: dict[str, Any] = {}
    if request.method == "POST":
        if not user.has_perm("attendance.add_visit"):
            raise PermissionDenied
        done = _save(request, visit, form, context)
        if done is not None:
            return done
    else:
        audit.look(visit.enrolment.patient, "session sheet", by=user)
    return render(request, "attendance/today.html", _context(request, visit, form, last) | context)


def _form(request: HttpRequest, visit: Visit, last: Visit | None) -> SheetForm:
    initial = initial_of(visit)
    if request.GET.get("repeat"):
        initial = {k: v for k, v in initial.items() if not k.startswith("before_")}
        initial["is_repeat"] = True
    return SheetForm(
        request.POST or None,
        initial=initial,
        version=visit.version,
        with_exercise=shows_exercise(visit),
        plan=planned_bouts(visit, last),
    )


def shows_exercise(visit: Visit) -> bool:
    """Exercise has begun, or something of it is on record."""
    has_any = bool(visit.bouts.all()) or visit.minutes is not None
    return visit.state in WITH_EXERCISE or has_any or hasattr(visit, "rhythm")


def planned_bouts(visit: Visit, last: Visit | None) -> list[BoutEntry]:
    """What to train today: the last session's workloads, else the prescription's."""
    done = list(last.bouts.all()) if last else []
    if done:
        return [
            BoutEntry(b.activity, b.minutes, b.speed_kmh, b.grade_percent, b.power_w) for b in done
        ]
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
        return redirect(_after(visit, "save"))
    except StaleVersion:
        fresh, _ = with_detail(get_visit_for(user, visit.pk))
        context["both"] = differences(form, initial_of(fresh))
        change_data(form, seen_version=str(fresh.version))
        return None
    except ValidationError as error:
        form.add_error(None, error)
        return None
    draft = f"visit-{visit.pk}-"  # what the browser kept is stored now and may go
    if result.barred_by:
        words = "Saved. Answer the finding before going on."
        messages.warning(request, words, extra_tags=draft)
        return redirect("attendance:sheet", visit.pk)
    words = f"{visit.enrolment.patient}: saved, {result.visit.get_state_display()}."
    messages.success(request, words, extra_tags=draft)
    if step == "finish" and not result.visit.sessions_counted:
        exercised = exercised_on(result.visit.enrolment, result.visit.on)
        words = why_not_counted(result.visit.minutes or 0, has_exercised=exercised)
        messages.warning(request, words)
    return redirect(_after(result.visit, step))


def _after(visit: Visit, step: str) -> str:
    """Back to the class when this person's part is over, else stay on the sheet."""
    if step in {"start", "finish", "hold", "stop"}:
        return class_url(visit.meeting)
    return reverse("attendance:sheet", args=[visit.pk])


def _context(
    request: HttpRequest, visit: Visit, form: SheetForm, last: Visit | None
) -> dict[str, Any]:
    day = day_of(visit.enrolment.patient.site, visit.on, visit.meeting.slot_id)
    row = next((r for r in day.rows if r.visit is not None and r.visit.pk == visit.pk), None)
    judged = _judged(visit, form)
    return day_context(request, day) | {
        "opened": visit,
        "form": form,
        "last": last,
        "last_before": merged_vitals(before_of(last)) if last else None,
        "earlier_readings": list(visit.readings.all()),
        "dose": row.prescription if row else None,
        "missing": in_words(judged.missing) if judged else [],
        "plan": form.plan,
        "standing": [f for f in visit.findings.all() if f.cleared_at is None],
        "cleared": [f for f in visit.findings.all() if f.cleared_at is not None],
        "n_rules": N_RULES,
    }


def before_of(visit: Visit) -> list[Reading]:
    return [reading for reading in visit.readings.all() if reading.phase == Reading.Phase.BEFORE]


def _judged(visit: Visit, form: SheetForm) -> Any:
    """The rules over what is in the form: as typed when it was sent, else as stored."""
    stored = form if form.is_bound else _stored_as_form(visit)
    stored.is_valid()
    try:
        return services.judge(visit, stored.sheet(), background_of(visit))
    except (OutOfRange, NotScorable):
        return None


def _stored_as_form(visit: Visit) -> SheetForm:
    stored = {k: v for k, v in initial_of(visit).items() if v is not None}
    for name in ["has_new_symptoms", "has_couplets", "has_triplets", "has_ecg"]:
        if name in stored:
            stored[name] = "yes" if stored[name] else "no"
    return SheetForm(stored, with_exercise=True, plan=[])


@require_POST
@permission_required("attendance.view_visit", raise_exception=True)
def live(request: HttpRequest, pk: int) -> HttpResponse:
    """What the rules say about values being typed. Stores nothing."""
    visit = get_visit_for(request.user, pk)
    form = SheetForm(request.POST, with_exercise=True, plan=[])
    judged = _judged(visit, form)
    return render(
        request,
        "attendance/_live.html",
        {
            "judged": judged,
            "missing": in_words(judged.missing) if judged else [],
            "field_errors": form.errors,
            "n_rules": N_RULES,
        },
    )


@require_POST
@permission_required("attendance.acknowledge_finding", raise_exception=True)
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Record the decision about a finding."""
    finding = get_finding_for(request.user, pk)
    form = AnswerForm(request.POST)
    try:
        if not form.is_valid():
            raise ValidationError("A decision needs a reason.")
        services_findings.answer_finding(finding, by=request.user, **form.cleaned_data)  # type: ignore[arg-type]
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("attendance:sheet", finding.visit_id)
