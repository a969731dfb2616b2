"""Sheets made as PDF: outcomes, letters to doctors, what a person takes home."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import render

from patients import audit
from patients.access import get_patient_for
from patients.models import AuditEvent, Patient
from patients.pdf import pdf_response
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import Enrolment
from programs.staff.request import StaffRequest
from reports import queries
from reports.outcomes import outcomes_of
from reports.sheets import for_patients, letters, outcome_sheet
from reports.sheets.dose import dose_of
from reports.sheets.texts import ENGLISH, LANGUAGES, Speaker, language_of, n_unreviewed


def course_of(patient: Patient, request: StaffRequest) -> Enrolment:
    """The course asked for, else the latest; 404 for somebody without one."""
    courses = queries.courses_of(patient)
    asked = [course for course in courses if str(course.pk) == request.GET.get("course")]
    for course in asked or courses:
        return course
    raise Http404("No course yet.")


def made(request: StaffRequest, patient: Patient, what: str) -> None:
    """A sheet leaves the program: an export of this person's record."""
    audit.record(AuditEvent.Kind.EXPORT, f"{what}, PDF", by=request.user, patient=patient)


@permission_required("reports.view_outcomes", raise_exception=True)
def sheets(request: StaffRequest, pk: int) -> HttpResponse:
    """What can be printed of a person, in which language, and what it cannot say yet."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "sheets and letters", by=request.user)
    course = course_of(patient, request)
    own = language_of(patient.language)
    context = {
        "patient": patient,
        "enrolment": course,
        "age": patient.person.age_on(patient.site.today()),
        "dose": dose_of(course),
        "own": own or ENGLISH,
        "is_spoken": bool(own),
        "n_unreviewed": n_unreviewed(),
        "languages": list(LANGUAGES.items()),
        "occasions": list(letters.OCCASIONS.values()),
        "readers": list(letters.READERS.items()),
    }
    return render(request, "reports/sheets.html", context)


@permission_required("reports.view_outcomes", raise_exception=True)
def outcomes(request: StaffRequest, pk: int) -> HttpResponse:
    """One person's outcomes on one page."""
    patient = get_patient_for(request.user, pk)
    course = course_of(patient, request)
    made(request, patient, "outcomes")
    data = outcome_sheet.data_of(patient, outcomes_of(course))
    return pdf_response("outcomes", data, f"outcomes-{pk}")


@permission_required("reports.view_outcomes", raise_exception=True)
def doctor_letter(request: StaffRequest, pk: int) -> HttpResponse:
    """A letter to the referrer or to primary care."""
    course = get_enrolment_for(request.user, pk)
    occasion = letters.OCCASIONS.get(request.GET.get("at", "enrolment"))
    to = request.GET.get("to", "referrer")
    if occasion is None or to not in letters.READERS:
        raise Http404("No such letter.")
    made(request, course.patient, f"letter to {letters.READERS[to].lower()}, {occasion.name}")
    data = letters.data_of(course, occasion, to, by=request.user)
    return pdf_response("letter", data, f"letter-{pk}")


Fill = Callable[[Enrolment, Speaker], dict[str, Any]]


def _for_patient(request: StaffRequest, pk: int, sheet: str, what: str, fill: Fill) -> HttpResponse:
    """A sheet in the person's own language, or in the one asked for."""
    patient = get_patient_for(request.user, pk)
    course = course_of(patient, request)
    asked = request.GET.get("language", "")
    language = asked if asked in LANGUAGES else language_of(patient.language) or ENGLISH
    made(request, patient, f"{what}, {LANGUAGES[language]}")
    return pdf_response(sheet, fill(course, Speaker(language)), f"{sheet}-{pk}")


@permission_required("reports.view_outcomes", raise_exception=True)
def home_exercise(request: StaffRequest, pk: int) -> HttpResponse:
    """Exercise at home, in large print."""
    return _for_patient(request, pk, "home", "home exercise", for_patients.home_exercise)


@permission_required("reports.view_outcomes", raise_exception=True)
def wallet_card(request: StaffRequest, pk: int) -> HttpResponse:
    """A card for the wallet."""
    return _for_patient(request, pk, "card", "wallet card", for_patients.wallet_card)


@permission_required("reports.view_outcomes", raise_exception=True)
def maintenance_plan(request: StaffRequest, pk: int) -> HttpResponse:
    """Twelve months from discharge."""
    return _for_patient(request, pk, "plan", "maintenance plan", for_patients.maintenance_plan)
