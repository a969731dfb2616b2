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
from reports.calc.completion import by_month
from reports.charts import completion_by_month
from reports.exports import Sheet, as_csv, as_workbook, figures_of, people_of
from reports.figures import referred
from reports.forms import KeepForm
from reports.keeping import kept_by
from reports.outcomes_of_many import lines_of
from reports.program import Shown, page_of, reason_words, told_shares
from reports.program_people import behind
from reports.running import Span, beside
from reports.totals import cohorts


@permission_required("reports.view_program", raise_exception=True)
def program(request: StaffRequest) -> HttpResponse:
    """How many got in, how fast, how many stayed and finished, and what lies behind it."""
    question = question_of(request)
    sees_names = request.user.has_perm("patients.view_patient")
    context = {
        "question": question,
        "sees_names": sees_names,
        "target_days": TARGET_DAYS,
        "kept": kept_by(request.user),
        "keeping": KeepForm(initial={"question": question.address}),
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


@permission_required("reports.view_program", raise_exception=True)
def gains(request: StaffRequest) -> HttpResponse:
    """What people gained between baseline and exit, with everybody who is missing."""
    question = question_of(request)
    sees_names = request.user.has_perm("patients.view_patient")
    lines, n_ended = lines_of(question, sees_names=sees_names)
    context = {"question": question, "lines": lines, "n_ended": n_ended}
    return render(request, "reports/program/gains.html", context)


@permission_required("reports.view_program", raise_exception=True)
def running_page(request: StaffRequest) -> HttpResponse:
    """Attendance, seats, safety and what is done in time, beside the year before."""
    question = question_of(request)
    asked = question.asked
    span = Span(asked.sites, asked.since, asked.until, asked.today)
    earlier = asked.before
    now, before = beside(span, Span(asked.sites, earlier.since, earlier.until, asked.today))
    months = by_month(cohorts(asked.sites, asked.since, asked.until), question.by)
    sees_names = request.user.has_perm("patients.view_patient")
    may_tell = told_shares([row.completed for row in months], sees_names)
    told = [
        row for row, may in zip(months, may_tell, strict=True) if may and row.completed.denominator
    ]
    context = {
        "months": [
            (row, Shown(row.completed, may)) for row, may in zip(months, may_tell, strict=True)
        ],
        "figures": {"months": completion_by_month(told)} if told else None,
        "question": question,
        "asked": asked,
        "running": now,
        "shares": list(zip(now.shares, before.shares, strict=True)),
        "rates": list(zip(now.rates, before.rates, strict=True)),
        "before": earlier,
    }
    return render(request, "reports/program/running.html", context)


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
