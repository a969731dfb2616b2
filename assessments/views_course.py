"""A person's course: pause, resume, leave, reopen; what is due next follows at once."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from assessments.services import tell_class_list
from patients import audit
from programs.enrolment.access import get_enrolment_for
from programs.enrolment.forms import CloseForm, PauseForm, ResumeForm
from programs.enrolment.models import Enrolment
from programs.enrolment.services import enrolments


@permission_required("enrolment.change_enrolment", raise_exception=True)
def change_course(request: HttpRequest, pk: int) -> HttpResponse:
    """Pause, resume, leave, reopen: one small form each, on one page."""
    row = get_enrolment_for(request.user, pk)
    today = row.patient.site.today()
    step = request.POST.get("step", "")
    forms = {
        "pause": PauseForm(
            request.POST if step == "pause" else None, initial={"from_on": today}, prefix="pause"
        ),
        "resume": ResumeForm(
            request.POST if step == "resume" else None, initial={"back_on": today}, prefix="resume"
        ),
        "close": CloseForm(
            request.POST if step == "close" else None,
            initial={"closed_on": today},
            prefix="close",
            today=today,
        ),
    }
    if request.method == "POST":
        form = forms.get(step)
        if step == "reopen" or (form is not None and form.is_valid()):
            try:
                _take(row, step, form.cleaned_data if form else {}, request.user)
                messages.success(request, "Saved; the calendar is planned anew.")
                return redirect("reports:journey", row.patient_id)
            except ValidationError as error:
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
    }
    return render(request, "assessments/change_course.html", context)


def _take(row: Enrolment, step: str, data: dict[str, Any], by: Any) -> None:
    if step == "pause":
        enrolments.pause(row, data["from_on"], data["reason"], by=by)
    elif step == "resume":
        enrolments.resume(row, data["back_on"], by=by)
    elif step == "close":
        enrolments.close(row, data["closed_on"], data["outcome"], by=by)
    else:
        enrolments.reopen(row, by=by, reason="reopened by hand")
    tell_class_list(row, by=by)
