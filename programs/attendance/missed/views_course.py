"""What a course asks for after missed sessions: what it lacks booked, somebody called."""

from typing import NamedTuple

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients.calc.days import in_words, short_weekday
from patients.submissions import AlreadyTaken, is_taken, key_in
from programs.attendance.missed import services
from programs.attendance.missed.due import to_call
from programs.attendance.missed.forms import CallForm
from programs.enrolment.calc.calendar import COURSE_WEEKS, last_course_day
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import ContactAttempt, Enrolment
from programs.enrolment.referrals.services import log_contact
from programs.staff.request import StaffRequest

BOOKED = "booked-missing"  # in the session: course and bookings of the last press


class Lately(NamedTuple):
    """What the last press of the reader booked, while it can be taken back."""

    enrolment: int
    keys: list[int]

    @property
    def n(self) -> int:
        return len(self.keys)


def booked_lately(request: StaffRequest) -> Lately | None:
    """What the reader booked last, on any of the pages that offer it."""
    kept = request.session.get(BOOKED)
    return Lately(*kept) if kept else None


@require_POST
@permission_required("enrolment.change_enrolment", raise_exception=True)
def book_missing(request: StaffRequest, pk: int) -> HttpResponse:
    """One press: what a course lacks is booked at its end; what could not be is said."""
    row = get_enrolment_for(request.user, pk)
    try:
        done = services.book_missing(row, key=key_in(request.POST), by=request.user)
    except AlreadyTaken:
        return _back(request, row)
    except ValidationError as error:
        messages.error(request, f"{row.patient}: {' '.join(error.messages)}")
        return _back(request, row)
    if done.sessions:
        last = short_weekday(done.sessions[-1].on, row.patient.site.today())
        words = f"{_sessions(len(done.sessions))} of {row.patient} booked, the last on {last}."
        messages.success(request, words)
        request.session[BOOKED] = [row.pk, [one.pk for one in done.sessions]]
    if done.n_without:
        messages.warning(
            request,
            f"{row.patient}: no free seat for {_sessions(done.n_without)} in the usual classes "
            f"until the {COURSE_WEEKS} weeks end on {in_words(last_course_day(row.starts_on))}. "
            "Change the schedule, or ask the payer.",
        )
    return _back(request, row)


@require_POST
@permission_required("enrolment.change_enrolment", raise_exception=True)
def undo_missing(request: StaffRequest, pk: int) -> HttpResponse:
    """Give up what the last press booked; nobody came to it yet."""
    row = get_enrolment_for(request.user, pk)
    kept = booked_lately(request)
    if kept is None or kept.enrolment != row.pk:
        messages.warning(request, f"Nothing to take back for {row.patient}.")
        return _back(request, row)
    try:
        n, n_kept = services.take_missing_back(row, kept.keys, by=request.user)
        messages.success(request, f"{_sessions(n)} of {row.patient} given up again.")
        if n_kept:
            messages.warning(request, f"{_sessions(n_kept)} stay: somebody came to them.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    request.session.pop(BOOKED, None)
    return _back(request, row)


def _sessions(n: int) -> str:
    return f"{n} session" if n == 1 else f"{n} sessions"


def _back(request: StaffRequest, row: Enrolment) -> HttpResponse:
    """To the page on which somebody pressed."""
    where = request.POST.get("from", "")
    if where == "due":
        return redirect("reports:due")
    if where == "journey":
        return redirect("reports:journey", row.patient_id)
    return redirect("assessments:change-course", row.pk)


@permission_required("attendance.add_visit", raise_exception=True)
def call(request: StaffRequest, pk: int) -> HttpResponse:
    """Whom to call, about what, and the record that somebody did."""
    row = get_enrolment_for(request.user, pk)
    due = to_call(row)
    days = due.days if due else ()
    form = CallForm(request.POST or None, days=days)
    form.instance.referral, form.instance.by = row.referral, request.user
    key = key_in(request.POST)
    if key is not None and is_taken(key):
        return redirect("reports:due")
    if request.method == "POST" and form.is_valid():
        try:
            log_contact(form.save(commit=False), key=key, by=request.user)
            messages.success(request, f"Call to {row.patient} recorded.")
            return redirect("reports:due")
        except AlreadyTaken:
            return redirect("reports:due")
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    made = ContactAttempt.objects.filter(referral=row.referral_id, missed_until__isnull=False)
    context = {
        "enrolment": row,
        "patient": row.patient,
        "due": due,
        "form": form,
        "calls": list(made.select_related("by")[:5]),
    }
    return render(request, "attendance/call.html", context)
