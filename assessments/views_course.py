"""A person's course: pause, other days, another site, a new event, leaving.

It stands here, not in enrolment, because moving to another site gives up assessments booked here.
"""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render

from assessments.services_schedule import give_up_bookings
from patients import audit
from patients.models import Condition
from patients.submissions import AlreadyTaken
from programs.enrolment.courses import changes as course_changes
from programs.enrolment.courses import services as enrolments
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.courses.forms import (
    ChangeDaysForm,
    ClinicianForm,
    CloseForm,
    MoveSessionForm,
    MoveStartForm,
    NewEventForm,
    PauseForm,
    ResumeForm,
    TransferForm,
)
from programs.enrolment.models import Enrolment, Referral
from programs.enrolment.seats import capacity
from programs.enrolment.seats.forms import show_seats
from programs.staff.request import StaffRequest


@permission_required("enrolment.change_enrolment", raise_exception=True)
def change_course(request: StaffRequest, pk: int) -> HttpResponse:
    """One small form for each turn a course can take, on one page."""
    row = get_enrolment_for(request.user, pk)
    step = request.POST.get("step", "")
    forms = _forms(request, row, step)
    if request.method == "POST":
        form = forms.get(step)
        if step == "reopen" or (form is not None and form.is_valid()):
            try:
                data = form.cleaned_data if form else {}
                return _take(request, row, step, data, getattr(form, "key", None))
            except ValidationError as error:
                row.refresh_from_db()
                if form is None:
                    messages.error(request, " ".join(error.messages))
                else:
                    form.add_error(None, error.messages)  # type: ignore[arg-type]
    else:
        audit.look(row.patient, "course", by=request.user)
    context = {
        "enrolment": row,
        "patient": row.patient,
        "forms": forms,
        "open_pause": row.pauses.filter(until_on=None).first(),
        "has_begun": row.starts_on <= row.patient.site.today(),
        "n_early": n_ahead(row),
    }
    return render(request, "assessments/change_course.html", context)


def n_ahead(row: Enrolment) -> int:
    """Planned sessions after today: leaving now gives them up."""
    return row.planned.filter(on__gt=row.patient.site.today()).count()


def _forms(request: StaffRequest, row: Enrolment, step: str) -> dict[str, Any]:
    user = request.user
    site = row.patient.site
    today, ahead = site.today(), max(course_changes.tomorrow(row), row.starts_on)
    now = list(row.slots.values_list("pk", flat=True))
    elsewhere = [other for other in user.my_sites() if other.pk != site.pk]

    def made(name: str, form_class: Any, initial: dict[str, Any], **given: Any) -> Any:
        data = request.POST if step == name else None
        return form_class(data, initial=initial, prefix=name, **given)

    forms = {
        "pause": made("pause", PauseForm, {"from_on": max(today, row.starts_on)}),
        "resume": made("resume", ResumeForm, {"back_on": today}),
        "days": made("days", ChangeDaysForm, {"from_on": ahead, "slots": now}, site=site),
        "session": made("session", MoveSessionForm, {}, enrolment=row),
        "start": made("start", MoveStartForm, {"starts_on": row.starts_on}),
        "event": made("event", NewEventForm, {"last_day": today}, today=today),
        "close": made("close", CloseForm, {"closed_on": today}, today=today),
        "clinician": made("clinician", ClinicianForm, {"clinician": row.clinician_id}, site=site),
    }
    show_seats(forms["days"], capacity.free_seats(site, course_changes.tomorrow(row)))
    if elsewhere:
        forms["transfer"] = made("transfer", TransferForm, {"from_on": ahead}, sites=elsewhere)
    return forms


def _take(request: StaffRequest, row: Enrolment, step: str, data: Any, key: Any) -> HttpResponse:
    """Do it; a new event leads to its referral, everything else to the journey."""
    user = request.user
    if step == "event":
        return _new_event(request, row, data, key)
    steps: dict[str, Callable[[], Any]] = {
        "pause": lambda: enrolments.pause(row, data["from_on"], data["reason"], by=user),
        "resume": lambda: enrolments.resume(row, data["back_on"], by=user),
        "days": lambda: course_changes.change_days(
            row, list(data["slots"]), data["from_on"], by=user
        ),
        "session": lambda: course_changes.move_session(
            data["session"], data["slot"], data["on"], by=user
        ),
        "start": lambda: course_changes.move_start(row, data["starts_on"], by=user),
        "transfer": lambda: course_changes.transfer(
            row, data["slots"][0].site, list(data["slots"]), data["from_on"], by=user
        ),
        "clinician": lambda: enrolments.look_after(row, data["clinician"], by=user),
        "close": lambda: enrolments.close(row, data["closed_on"], data["outcome"], by=user),
        "reopen": lambda: enrolments.reopen(row, by=user, reason="reopened by hand"),
    }
    with transaction.atomic():
        steps[step]()
        row.refresh_from_db()
        if step == "transfer":
            give_up_bookings(row, by=user)
    done = "Saved." if step == "clinician" else "Saved. Sessions re-planned."
    messages.success(request, done)
    return redirect("reports:journey", row.patient_id)


def _new_event(request: StaffRequest, row: Enrolment, data: Any, key: Any) -> HttpResponse:
    user = request.user
    condition = Condition(kind=data["kind"], happened_on=data["event_on"])
    referral = Referral(
        referred_on=row.patient.site.today(), discharged_on=data["discharged_on"], source="clinic"
    )
    try:
        found = course_changes.new_event(
            row, condition, referral, data["last_day"], key=key, by=user
        )
    except AlreadyTaken:
        return redirect("reports:journey", row.patient_id)
    messages.success(request, "The course has ended; the new event is a referral of its own.")
    return redirect("enrolment:referral", found.pk)
