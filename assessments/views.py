"""Assessments: the list of a course, recording one, concerns."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.db.models import Prefetch, prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from assessments import services
from assessments.access import get_assessment_for, get_concern_for
from assessments.calc.catalogue import BY_KEY, MEASURES
from assessments.calc.choosing import LIMIT_WORDS
from assessments.calc.exercise_test import PEAK_VO2
from assessments.calc.schedule import Line
from assessments.calc.timing import Standing
from assessments.forms import (
    AddTestForm,
    AssessmentForm,
    CloseConcernForm,
    HandOverForm,
    ReasonForm,
    initial_of,
)
from assessments.forms_schedule import PlanForm
from assessments.models import Assessment, Concern, Measurement
from assessments.queries_record import judged_results, known_of
from assessments.queries_schedule import lines_of
from assessments.services_choosing import proposed_for, variants_for
from assessments.views_running import RUNNERS
from patients import audit
from patients.forms import change_data
from patients.history import StaleVersion
from patients.submissions import AlreadyTaken
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import Enrolment
from programs.staff.request import StaffRequest


@permission_required("assessments.view_assessment", raise_exception=True)
def course(request: StaffRequest, pk: int) -> HttpResponse:
    """Every assessment of a course: done, due, later."""
    enrolment = get_enrolment_for(request.user, pk)
    audit.look(enrolment.patient, "assessments", by=request.user)
    return course_page(request, enrolment)


def course_page(
    request: StaffRequest,
    enrolment: Enrolment,
    refused: Mapping[tuple[str, int], ReasonForm] | None = None,
) -> HttpResponse:
    """The list; ``refused`` holds, by kind and number, a reason as it was typed."""
    today = enrolment.patient.site.today()
    may_write = request.user.has_perm("assessments.add_assessment")
    stored = enrolment.assessments.select_related("by", "booked_with")
    prefetch_related_objects(
        [enrolment], Prefetch("assessments", stored), "assessments__measurements"
    )
    context = {
        "enrolment": enrolment,
        "patient": enrolment.patient,
        "lines": [
            (line, _why_not(line, refused or {}) if may_write else None)
            for line in lines_of(enrolment, today)
        ],
        "may_write": may_write,
    }
    return render(request, "assessments/course.html", context)


def _why_not(line: Line, refused: Mapping[tuple[str, int], ReasonForm]) -> ReasonForm | None:
    """Asked of what could be done by now and was neither done nor excused."""
    if form := refused.get((line.milestone.kind, line.milestone.number)):
        return form
    row = line.stored
    settled = row is not None and (row.performed_on or row.not_obtained_because)
    if settled or line.standing == Standing.LATER:
        return None
    return why_not_form(line.milestone.kind, line.milestone.number)


def why_not_form(kind: str, number: int, data: Any = None) -> ReasonForm:
    words = "It could not be obtained because"
    return ReasonForm(data, label=words, about=f"{kind}_{number}")


@permission_required("assessments.view_assessment", raise_exception=True)
def record(request: StaffRequest, pk: int) -> HttpResponse:
    """Results of an assessment; with the permission, the form to record or correct them."""
    user = request.user
    assessment = get_assessment_for(user, pk)
    form = None
    if request.method == "POST" and user.has_perm("assessments.add_assessment"):
        if request.POST.get("do") == ADD_TEST:
            data = request.POST.copy()
            data.setlist("test", _added(request))
            return record_page(request, assessment, _form(request, assessment, data).as_typed())
        form = _form(request, assessment, request.POST)
        done = _save(request, assessment, form)
        if done is not None:
            return done
    elif request.method == "GET":
        audit.look(assessment.enrolment.patient, f"{assessment}", by=user)
    return record_page(request, assessment, form)


def record_page(
    request: StaffRequest,
    assessment: Assessment,
    form: AssessmentForm | None = None,
    *,
    plan_form: PlanForm | None = None,
    refused: Mapping[int, ReasonForm] | None = None,
) -> HttpResponse:
    """The page; forms given were refused and stand as typed, ``refused`` by their measurement."""
    patient = assessment.enrolment.patient
    measurements = list(assessment.measurements.standing())
    if form is None and request.user.has_perm("assessments.add_assessment"):
        form = _form(request, assessment)
    refused = refused or {}
    context = {
        "assessment": assessment,
        "enrolment": assessment.enrolment,
        "patient": patient,
        "measurements": measurements,
        "results": [
            (*found, refused.get(found[0].pk) or _wrong_form(found[0].pk))
            for found in judged_results(measurements, patient)
        ],
        "risk_query": _risk_query(measurements),
        "limited_by": [LIMIT_WORDS[key] for key in assessment.limits if key in LIMIT_WORDS],
        "concerns": list(assessment.concerns.select_related("owner", "closed_by")),
        "form": form,
        "plan_form": plan_form or PlanForm.of(assessment),
        "runnable": [m for m in form.measures if m.key in RUNNERS] if form else [],
        "add_form": _add_form(form),
    }
    return render(request, "assessments/record.html", context)


def _wrong_form(pk: int, data: Any = None) -> ReasonForm:
    return ReasonForm(data, label="Reason", about=f"result_{pk}")


ADD_TEST = "add-test"


def _added(request: StaffRequest) -> list[str]:
    """Tests beyond those chosen that this page was asked for, the one just added among them."""
    wanted = [*request.GET.getlist("test"), *request.POST.getlist("test")]
    if request.POST.get("do") == ADD_TEST:
        wanted.append(request.POST.get("add_test", ""))
    return [key for key in dict.fromkeys(wanted) if key in BY_KEY]


def _add_form(form: AssessmentForm | None) -> AddTestForm | None:
    addable = [m for m in MEASURES if form and m not in form.measures]
    return AddTestForm(addable) if addable else None


def _risk_query(measurements: list[Measurement]) -> str:
    """What these results answer of the stratification: a tested capacity, none estimated."""
    found = next((m for m in measurements if m.key == PEAK_VO2.key and m.value), None)
    if found is None:
        return ""
    return f"?occasion=test&has_test=yes&capacity_mets={found.derived_values['mets']:.1f}"


def _form(request: StaffRequest, assessment: Assessment, data: Any = None) -> AssessmentForm:
    patient = assessment.enrolment.patient
    measurements = list(assessment.measurements.standing())
    today = patient.site.today()
    asked = [*_added(request), *(m.key for m in measurements)]
    wanted = {*proposed_for(assessment), *asked}
    keys = [m.key for m in MEASURES if m.key in wanted]
    initial = {"performed_on": assessment.performed_on or today, "note": assessment.note}
    initial["test"] = _added(request)
    initial |= initial_of(measurements)
    # What a test run on a tablet counted; it is judged and stored like anything typed.
    initial |= {k: v for k, v in request.GET.items() if k.partition("-")[0] in wanted and v}
    return AssessmentForm(
        data,
        initial=initial,
        version=assessment.version,
        keys=keys,
        today=today,
        since=assessment.enrolment.referral.referred_on,
        person=patient.person,
        known=known_of(assessment, request.user),
        variants=variants_for(assessment),
    )


def _save(
    request: StaffRequest, assessment: Assessment, form: AssessmentForm
) -> HttpResponse | None:
    """Save and redirect; on refusal keep the form, but never lose a safety answer."""
    user = request.user
    if not form.is_valid():
        _raise_even_so(request, assessment, form)
        return None
    entries = form.entries()
    if not entries:
        form.add_error(None, "Nothing was measured yet.")
        return None
    try:
        concerns = services.record(
            assessment,
            form.cleaned_data["performed_on"],
            entries,
            form.cleaned_data["note"],
            seen=form.seen,
            key=form.key,
            by=user,
        )
    except AlreadyTaken:
        return redirect("assessments:record", assessment.pk)
    except StaleVersion:
        form.add_error(
            None,
            "Somebody else saved this assessment meanwhile; theirs stands above. "
            "Check, then save again to replace it.",
        )
        fresh = Assessment.objects.get(pk=assessment.pk)
        change_data(form, seen_version=str(fresh.version))
        _raise_even_so(request, assessment, form)
        return None
    except ValidationError as error:
        form.add_error(None, error)
        _raise_even_so(request, assessment, form)
        return None
    for concern in concerns:
        messages.error(request, concern.sentence)
    messages.success(request, f"{assessment} saved.", extra_tags=f"assessment-{assessment.pk}")
    return redirect("assessments:record", assessment.pk)


def _raise_even_so(request: StaffRequest, assessment: Assessment, form: AssessmentForm) -> None:
    user = request.user
    news = services.changed_entries(assessment, form.entries())
    for concern in services.raise_concerns(assessment, news, by=user):
        messages.error(request, concern.sentence)


@require_POST
@permission_required("assessments.add_assessment", raise_exception=True)
def mark_in_error(request: StaffRequest, pk: int) -> HttpResponse:
    found = Measurement.objects.visible_to(request.user)
    measurement = get_object_or_404(found, pk=pk)
    form = _wrong_form(pk, request.POST)
    if form.is_valid():
        try:
            services.mark_in_error(measurement, form.cleaned_data["reason"], by=request.user)
            return redirect("assessments:record", measurement.assessment_id)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    assessment = get_assessment_for(request.user, measurement.assessment_id)
    return record_page(request, assessment, refused={pk: form})


@permission_required("assessments.view_assessment", raise_exception=True)
def concern(request: StaffRequest, pk: int) -> HttpResponse:
    """One concern; closing it needs what was done."""
    user = request.user
    found = get_concern_for(user, pk)
    patient = found.assessment.enrolment.patient
    may_close = user.has_perm("assessments.close_concern")
    form = CloseConcernForm(request.POST or None) if may_close else None
    if request.method == "POST" and form is None:
        raise PermissionDenied
    if request.method != "POST":
        audit.look(patient, "concern", by=user)
    if form is not None and request.method == "POST" and form.is_valid():
        try:
            services.close_concern(found, form.cleaned_data["outcome"], by=user)
            return redirect("reports:due")
        except ValidationError as error:
            form.add_error(None, error)
    hand_form = HandOverForm(site=patient.site) if may_close else None
    return _concern_page(request, found, form, hand_form)


def _concern_page(
    request: StaffRequest,
    found: Concern,
    form: CloseConcernForm | None,
    hand_form: HandOverForm | None,
) -> HttpResponse:
    context = {
        "concern": found,
        "patient": found.assessment.enrolment.patient,
        "form": form,
        "versions": list(found.history.select_related("history_user").order_by("history_date")),
        "hand_form": hand_form,
    }
    return render(request, "assessments/concern.html", context)


@require_POST
@permission_required("assessments.close_concern", raise_exception=True)
def hand_over(request: StaffRequest, pk: int) -> HttpResponse:
    """Put a concern into somebody else's hands."""
    user = request.user
    found = get_concern_for(user, pk)
    form = HandOverForm(request.POST, site=found.assessment.enrolment.patient.site)
    if form.is_valid():
        try:
            services.hand_over(found, form.cleaned_data["to"], by=user)
            messages.success(request, f"Now assigned to {form.cleaned_data['to']}.")
            return redirect("assessments:concern", pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
            found = get_concern_for(user, pk)
    return _concern_page(request, found, CloseConcernForm(), form)
