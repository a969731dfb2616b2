"""Booking assessments, one or many, and saying why one was not obtained."""

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from assessments import services_schedule as services
from assessments.access import get_assessment_for
from assessments.forms_schedule import AheadForm, BookManyForm, PlanForm, day_name
from assessments.queries_schedule import AHEAD_DAYS, to_book
from assessments.views import course_page, record_page, why_not_form
from patients.submissions import AlreadyTaken, is_taken
from patients.typed import whole
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.courses.services import look_after
from programs.staff.access import current_site
from programs.staff.request import StaffRequest


@require_POST
@permission_required("assessments.add_assessment", raise_exception=True)
def open_assessment(request: StaffRequest, pk: int) -> HttpResponse:
    """Begin recording an assessment of a kind, from anywhere."""
    user = request.user
    enrolment = get_enrolment_for(user, pk)
    number = whole(request.POST.get("number", "1")) or 0
    try:
        assessment = services.open_assessment(
            enrolment,
            request.POST.get("kind", ""),
            number if number < 1000 else 0,
            by=user,
        )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("assessments:course", pk)
    return redirect("assessments:record", assessment.pk)


@require_POST
@permission_required("assessments.add_assessment", raise_exception=True)
def book(request: StaffRequest, pk: int) -> HttpResponse:
    """Book one assessment, or give its booking up."""
    user = request.user
    assessment = get_assessment_for(user, pk)
    form = PlanForm(request.POST, site=assessment.enrolment.patient.site)
    if form.is_valid():
        given = form.cleaned_data
        try:
            services.plan_assessment(assessment, given["planned_on"], given["with_whom"], by=user)
            done = "booked" if given["planned_on"] else "is no longer booked"
            messages.success(request, f"{assessment} {done}.")
            return redirect("assessments:record", pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return record_page(request, get_assessment_for(user, pk), plan_form=form)


@require_POST
@permission_required("assessments.add_assessment", raise_exception=True)
def not_obtained(request: StaffRequest, pk: int, kind: str, number: int) -> HttpResponse:
    """Say why an assessment of a course could not be obtained."""
    user = request.user
    enrolment = get_enrolment_for(user, pk)
    form = why_not_form(kind, number, request.POST)
    if form.is_valid():
        try:
            row = services.excuse(enrolment, kind, number, form.cleaned_data["reason"], by=user)
            messages.success(request, f"{row}: reason recorded.")
            return redirect("assessments:course", pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return course_page(request, get_enrolment_for(user, pk), {(kind, number): form})


@require_POST
@permission_required("enrolment.change_enrolment", raise_exception=True)
def take(request: StaffRequest, pk: int) -> HttpResponse:
    """I look after this course from now on."""
    user = request.user
    enrolment = get_enrolment_for(user, pk)
    try:
        look_after(enrolment, user, only_if_free=True, by=user)
        messages.success(request, f"{enrolment.patient} is assigned to you.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("reports:due")


@permission_required("assessments.add_assessment", raise_exception=True)
def book_many(request: StaffRequest) -> HttpResponse:
    """Everything not booked yet that comes due soon, each with a day of its own to take."""
    site = current_site(request)
    ahead = whole(request.GET.get("ahead"))
    days = AHEAD_DAYS if ahead is None or ahead > 84 else ahead
    lines = to_book(site, site.today() + timedelta(days=days))
    sent = request.POST if request.method == "POST" else None  # also with nothing in it
    form = BookManyForm(sent, site=site, lines=lines)
    ticked = set(request.POST.getlist("take"))
    if request.method == "POST" and _book(request, lines, ticked, form):
        return redirect("reports:due")
    rows = [(line, form.box(line), line.key in ticked) for line in lines]
    context = {
        "rows": rows,
        "form": form,
        "here": site,
        "ahead_form": AheadForm(days),
        "today": site.today(),
    }
    return render(request, "assessments/book_many.html", context)


def _book(request: StaffRequest, lines: list[Any], ticked: set[str], form: Any) -> bool:
    """Book what was ticked; on refusal every tick and day stays as typed."""
    user = request.user
    form.is_valid()
    if "with_whom" in form.errors:
        return False
    if form.key is not None and is_taken(form.key):
        messages.info(request, "This form was sent before; what it booked stands.")
        return True
    wanted, errors = _wanted(lines, ticked, form)
    if not errors:
        try:
            services.book_many(wanted, form.cleaned_data["with_whom"], key=form.key, by=user)
            messages.success(request, f"{len(wanted)} booked.")
            return True
        except AlreadyTaken:
            return True
        except ValidationError as error:
            errors = error.messages
    for words in errors:
        form.add_error(None, words)
    return False


def _wanted(
    lines: list[Any], ticked: set[str], form: BookManyForm
) -> tuple[list[services.Booking], list[str]]:
    """The ticked lines with their days, and what is wrong with them."""
    wanted, errors = [], []
    gone = len(ticked - {line.key for line in lines})
    if gone:
        errors.append(f"{gone} of those ticked were booked or recorded meanwhile; look again.")
    for line in lines:
        if line.key not in ticked:
            continue
        name = day_name(line)
        on = form.cleaned_data.get(name)
        if on is None:
            words = str(form.errors[name][0]) if name in form.errors else "give a day."
            errors.append(f"{line.enrolment.patient}: {words}")
            continue
        milestone = line.milestone
        wanted.append(services.Booking(line.enrolment, milestone.kind, milestone.number, on))
    if not wanted and not errors:
        errors.append("Tick whom to book.")
    return wanted, errors
