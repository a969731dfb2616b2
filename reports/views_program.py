"""The program: its figures, who is behind them, and what leaves the house."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from patients import audit
from patients.models import AuditEvent
from patients.paging import page_of as page_of_rows
from programs.enrolment.calc.start_clock import TARGET_DAYS
from programs.enrolment.calc.way import STEP_NAMES, Step
from programs.staff.request import StaffRequest
from reports.asking import Question, question_of
from reports.exports import Sheet, as_csv, as_workbook, figures_of, people_of
from reports.figures import referred
from reports.program import page_of, reason_words
from reports.program_people import behind


@permission_required("reports.view_program", raise_exception=True)
def program(request: StaffRequest) -> HttpResponse:
    """How many got in, how fast, how many stayed and finished, and what lies behind it."""
    question = question_of(request)
    sees_names = request.user.has_perm("patients.view_patient")
    context = {
        "question": question,
        "sees_names": sees_names,
        "target_days": TARGET_DAYS,
        **page_of(question, sees_names=sees_names),
    }
    return render(request, "reports/program.html", context)


@permission_required("reports.view_program", raise_exception=True)
@permission_required("patients.view_patient", raise_exception=True)
def people(request: StaffRequest) -> HttpResponse:
    """Who is behind a figure; every name shown is a look at that person."""
    question = question_of(request)
    found = behind(question, request.GET.get("of", "began"))
    if found is None:
        raise Http404("There is no such figure.")
    rows = referred(question.asked).filter(found.condition).select_related("patient", "site")
    page = page_of_rows(request, rows, order=("referred_on", "pk"))
    names = [row.patient_id for row in page.rows]
    audit.looks(set(names), f"program: {found.words}", by=request.user)
    lines = [(row, STEP_NAMES[Step(row.step)], _reason(row)) for row in page.rows]
    context = {"question": question, "behind": found, "lines": lines, "page": page}
    return render(request, "reports/program/people.html", context)


def _reason(row: Any) -> str:
    return reason_words(row.reason) if row.is_over else ""


KINDS = {
    "csv": ("text/csv; charset=utf-8", as_csv),
    "xlsx": ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", as_workbook),
}


@permission_required("reports.export_program", raise_exception=True)
def export(request: StaffRequest) -> HttpResponse:
    """The figures of the page with their definitions, for a spreadsheet."""
    question = question_of(request)
    return _file(request, "program", question, figures_of(question))


@permission_required("reports.export_people", raise_exception=True)
def export_people(request: StaffRequest) -> HttpResponse:
    """One row a referral without names, for quality work."""
    question = question_of(request)
    try:
        sheets = people_of(question)
    except ValidationError as error:
        messages.error(request, error.messages[0])
        return redirect(f"{reverse('reports:program')}?{question.address}")
    return _file(request, "program-people", question, sheets)


def _file(
    request: StaffRequest, name: str, question: Question, sheets: list[Sheet]
) -> HttpResponse:
    """A file, noted as an export with what was asked."""
    ending = request.GET.get("as", "csv")
    ending = ending if ending in KINDS else "csv"
    kind, write = KINDS[ending]
    audit.record(AuditEvent.Kind.EXPORT, f"{name}.{ending}: {question.address}", by=request.user)
    response = HttpResponse(write(sheets), content_type=kind)
    told = f"{name}-{question.asked.since}-to-{question.asked.until}.{ending}"
    response["Content-Disposition"] = f'attachment; filename="{told}"'
    return response
