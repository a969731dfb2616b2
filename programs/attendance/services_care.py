"""Treating a low glucose, teaching, home reports."""

from collections.abc import Collection
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from programs.attendance.calc.quantities import Glucose
from programs.attendance.locking import lock_visit
from programs.attendance.models import Carbohydrate, HomeReport, Reading, Teaching, Visit
from programs.attendance.queries_visit import background_of, rules_for, stored_sheet
from programs.attendance.services import judge
from programs.attendance.services_findings import keep_findings
from programs.attendance.services_storing import untested_since
from programs.enrolment.models import Enrolment
from programs.staff.models import User

State = Visit.State
CARED_FOR = {State.ARRIVED, State.EXERCISING, *Visit.ENDED}


@transaction.atomic
def give_carbohydrate(visit: Visit, grams: int, what: str = "", *, by: User) -> Carbohydrate:
    """Note fast carbohydrate given now; the recheck is due fifteen minutes later."""
    row = Carbohydrate(visit=visit, grams=grams, what=what, given_at=timezone.now())
    save_as(row, by=by, reason="carbohydrate given")
    return row


@transaction.atomic
def recheck(
    visit: Visit, glucose: Glucose, *, needed_help: bool | None = None, by: User
) -> Reading:
    """Store a glucose recheck beside the earlier values and judge the visit again.

    Raises
    ------
    ValidationError : the person is not here, or the visit is of another day.
    """
    row = lock_visit(visit)
    if row.state not in CARED_FOR or row.on != row.enrolment.patient.site.today():
        raise ValidationError("A recheck is noted on the day, for somebody who is here.")
    earlier = stored_sheet(row).latest_glucose
    fresh = Reading(
        visit=row,
        phase=_phase_of(row),
        taken_at=timezone.now(),
        glucose_mgdl=float(glucose),
        glucose_is_mmoll=glucose.is_mmoll,
    )
    save_as(fresh, by=by, reason="glucose recheck")
    if needed_help or (needed_help is False and "needed_help" not in row.answers):
        row.answers = row.answers | {"needed_help": needed_help}  # a yes stays: it happened
    if untested_since(row, earlier, glucose):
        row.ketones = ""
    judged = judge(row, stored_sheet(row), background_of(row), rules_for(row.enrolment.patient))
    keep_findings(row, judged, by=by)
    save_as(row, by=by, reason="glucose recheck")  # a sheet open elsewhere is told
    return fresh


def _phase_of(visit: Visit) -> str:
    if visit.started_at is None:
        return Reading.Phase.BEFORE
    return Reading.Phase.DURING if visit.state == State.EXERCISING else Reading.Phase.RECOVERY


@transaction.atomic
def teach(
    enrolments: Collection[Enrolment],
    on: date,
    component: str,
    topic: str,
    minutes: int | None,
    *,
    by: User,
) -> list[Teaching]:
    """One topic taught to some people on a day.

    Raises
    ------
    ValidationError : a day ahead, an unknown component, or impossible minutes.
    """
    rows = []
    for enrolment in enrolments:
        if on > enrolment.patient.site.today():
            raise ValidationError("Teaching is noted on its day or afterwards.")
        row = Teaching(
            enrolment=enrolment, on=on, component=component, topic=topic, minutes=minutes
        )
        save_as(row, by=by, reason="taught")
        rows.append(row)
    return rows


@transaction.atomic
def withdraw_teaching(teaching: Teaching, *, by: User) -> None:
    """Entered in error: it stays in the record, marked."""
    row = Teaching.objects.select_for_update().get(pk=teaching.pk)
    row.is_withdrawn = True
    save_as(row, by=by, reason="entered in error")


@transaction.atomic
def report_home(row: HomeReport, *, by: User) -> None:
    """Store a week's report, new or corrected; raises ValidationError for a week ahead."""
    if row.week_of > row.enrolment.patient.site.today():
        raise ValidationError("This week has not begun.")
    save_as(row, by=by, reason="home report")
