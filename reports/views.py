"""Home, Due, a patient's journey and outcomes."""

from datetime import date
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import redirect, render

from assessments.calc.schedule import next_line
from assessments.queries_schedule import lines_of, with_courses, with_people
from patients import audit
from patients.access import get_patient_for
from patients.models import Patient
from patients.paging import part_of
from programs.attendance.missed.queries import lacks_of, standing_from
from programs.attendance.missed.views_course import booked_lately
from programs.attendance.models import Visit
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import Enrolment
from programs.enrolment.referrals import queries as referrals
from programs.prescription.calc.signature import next_signature_due
from programs.prescription.signing import signs_anywhere
from programs.review.queries import lines_of_plans
from programs.staff.request import StaffRequest
from programs.staff.roles import HOME
from programs.staff.units import units_of
from reports import queries
from reports.calendar import entries
from reports.changes import lines_of as lines_of_versions
from reports.changes import versions_of
from reports.course_record import background_of, record_of
from reports.journey import draw
from reports.outcomes import outcomes_of
from reports.worklists import due_for

SHOWN, SHOWN_OF_EACH, SHOWN_REFERRALS = 40, 15, 8  # rows of Due: on a page of one kind, of each


def home(request: StaffRequest) -> HttpResponse:
    """Each role's own page."""
    user = request.user
    return redirect(HOME[user.role])


@permission_required("reports.view_due", raise_exception=True)
def due(request: StaffRequest) -> HttpResponse:
    """What needs somebody; of each long list the first, or a page of one of them."""
    found = due_for(request.user, request.GET.get("whose", "all"))
    lists: dict[str, list[Any]] = {
        "doses": found.doses,
        "plans": found.plans,
        "assessments": found.assessments,
        "short": found.short,
    }
    only = request.GET.get("only", "")
    only = only if only in lists else ""
    size = SHOWN if only else SHOWN_OF_EACH
    pages = {
        name: part_of(request, rows if only in {"", name} else [], size)
        for name, rows in lists.items()
    }
    calls = [] if only else found.calls[:SHOWN_OF_EACH]
    lately = booked_lately(request)
    shown = {row.enrolment for page in pages.values() for row in page.rows}
    shown |= {call.enrolment for call in calls} | ({lately.enrolment} if lately else set())
    of = with_people(shown)
    context = {
        "due": found,
        "only": only,
        "whose": next((share.key for share in found.shares if share.is_shown), "all"),
        "page": pages[only or "plans"],
        "plans": lines_of_plans(pages["plans"].rows, of),
        "assessments": with_courses(pages["assessments"].rows, of, found.people),
        "short": [(of[one.enrolment], one) for one in pages["short"].rows],
        "doses": [(of[one.enrolment], one) for one in pages["doses"].rows],
        "calls": [(of[call.enrolment], call) for call in calls],
        "lately": (of[lately.enrolment], lately) if lately else None,
        "referrals": [] if only else referrals.lines_of(found.referrals[:SHOWN_REFERRALS]),
    }
    context["signs"] = signs_anywhere(request.user)
    return render(request, "reports/due.html", context)


def course_for(patient: Patient, pk: str | None) -> Enrolment | None:
    """The course asked for, else the latest."""
    return _chosen(queries.courses_of(patient), pk)


def _chosen(courses: list[Enrolment], pk: str | None) -> Enrolment | None:
    chosen = [c for c in courses if pk and str(c.pk) == pk]
    return next(iter(chosen or courses), None)


@permission_required("patients.view_patient", raise_exception=True)
def journey(request: StaffRequest, pk: int) -> HttpResponse:
    """The signature page: one person's twelve weeks."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "overview", by=request.user)
    courses = queries.courses_of(patient)
    enrolment = _chosen(courses, request.GET.get("course"))
    today = patient.site.today()
    context: dict[str, Any] = {
        "patient": patient,
        "age": patient.person.age_on(today),
        "enrolment": enrolment,
        "courses": courses,
        **background_of(patient),
    }
    if enrolment is None:
        context["referrals"] = list(patient.referrals.all())
    if enrolment is not None:
        context |= _course_context(enrolment, today)
        lately = booked_lately(request)
        context["lately"] = lately if lately and lately.enrolment == enrolment.pk else None
    return render(request, "reports/journey.html", context)


@permission_required("enrolment.view_enrolment", raise_exception=True)
def course_calendar(request: StaffRequest, pk: int) -> HttpResponse:
    """Sessions, assessments and signatures of a course, day by day."""
    enrolment = get_enrolment_for(request.user, pk)
    audit.look(enrolment.patient, "calendar", by=request.user)
    found = entries(enrolment, enrolment.patient.site.today())
    context = {"enrolment": enrolment, "patient": enrolment.patient, "entries": found}
    return render(request, "reports/course_calendar.html", context)


def _course_context(enrolment: Enrolment, today: date) -> dict[str, Any]:
    record = record_of(enrolment, today)
    visits, planned, signed = record.visits, record.planned, record.signed
    states = [v.state for v in visits]
    recorded = {(v.meeting.slot_id, v.on) for v in visits if v.state != Visit.State.EXPECTED}
    assessments = lines_of(enrolment, today)
    review = next_line(assessments) if enrolment.is_open else None
    plan_due_on = next_signature_due(max(signed, default=None), enrolment.starts_on)
    seen = [((v.on, v.meeting.slot_id), v.state, v.sessions_counted) for v in visits]
    standing = standing_from(enrolment, [(p.on, p.slot_id) for p in planned], seen)
    coming = [p for p in planned if p.on >= today and (p.slot_id, p.on) not in recorded]
    return {
        "journey": draw(enrolment, planned, visits, assessments, signed, today),
        "exit_sought": any(a.milestone.sought_until and a.is_waiting for a in assessments),
        "standing": standing,
        "n_lacking": lacks_of(enrolment, standing),
        "n_counted": standing.counted,
        "n_missed": states.count(Visit.State.ABSENT),
        "n_held": states.count(Visit.State.HELD) + states.count(Visit.State.STOPPED),
        "next_session": coming[0] if coming else None,
        "review": review,
        "review_days": (review.on - today).days if review else None,
        "plan_due_on": plan_due_on if enrolment.is_open else None,
        "plan_days": (plan_due_on - today).days,
        "dose": record.dose,
        "comparison": queries.comparison(enrolment, says_corrected=False),
        "open_pause": next((p for p in enrolment.pauses.all() if p.until_on is None), None),
        "week": enrolment.week_on(today),
    }


@permission_required("reports.view_outcomes", raise_exception=True)
def outcomes(request: StaffRequest, pk: int) -> HttpResponse:
    """Baseline, six weeks and exit side by side."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "outcomes", by=request.user)
    enrolment = course_for(patient, request.GET.get("course"))
    today = patient.site.today()
    found = outcomes_of(enrolment) if enrolment else None
    context = {
        "patient": patient,
        "enrolment": enrolment,
        "found": found if found and found.lines else None,
        "age": patient.person.age_on(today),
    }
    return render(request, "reports/outcomes.html", context)


@permission_required("reports.view_changes", raise_exception=True)
def changes(request: StaffRequest, pk: int) -> HttpResponse:
    """Who changed what in this record, before and after."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "changes", by=request.user)
    page = part_of(request, versions_of(patient))
    context = {
        "patient": patient,
        "enrolment": course_for(patient, None),
        "page": page,
        "lines": lines_of_versions(page.rows, units_of(request.user, patient.site)),
    }
    return render(request, "reports/changes.html", context)
