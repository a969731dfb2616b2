"""One visit: arrived, absent, undone, the hour of arrival set right."""

from datetime import datetime, time

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from programs.attendance.models import ClassMeeting, Visit
from programs.attendance.visit.locking import lock_visit
from programs.enrolment.courses.make_ups import give_up_make_up, is_ahead, make_up_of
from programs.enrolment.models import Enrolment, PlannedSession
from programs.staff.models import User

State = Visit.State


@transaction.atomic
def arrive(planned: PlannedSession, *, by: User) -> Visit:
    """Check somebody in. A second click, or a second person's, changes nothing.

    Raises
    ------
    ValidationError : the session lies in the future.
    """
    if planned.on > planned.slot.site.today():
        raise ValidationError(
            f"{planned.enrolment.patient} is expected on {planned.on:%-d %b %Y}, not today."
        )
    visit = _visit_for(planned)
    if visit.pk is None or visit.state in {State.EXPECTED, State.ABSENT}:
        visit.state, visit.absence = State.ARRIVED, ""
        visit.arrived_at = timezone.now()
        save_as(visit, by=by, reason="arrived")
    return visit


@transaction.atomic
def correct_arrival(visit: Visit, at: time, *, seen: int, by: User) -> Visit:
    """Set the hour somebody came to what it really was, on the wall clock of the site.

    Raises
    ------
    ValidationError : nobody came, or the hour is ahead, or after exercise began or ended.
    StaleVersion : somebody else saved the visit meanwhile.
    """
    row = lock_visit(visit)
    row.check_version(seen)
    zone = row.enrolment.patient.site.now().tzinfo
    came = datetime.combine(row.on, at, zone)
    if row.arrived_at is None:
        raise ValidationError("Nobody came to this visit.")
    if came > timezone.now():
        raise ValidationError("That hour has not come yet.")
    row.arrived_at = came
    save_as(row, by=by, reason="arrival corrected")
    return row


@transaction.atomic
def mark_absent(planned: PlannedSession, absence: str, *, by: User) -> Visit:
    """Record an absence with its reason; raises ValidationError once anything is recorded."""
    visit = _visit_for(planned)
    if visit.pk is not None and visit.state not in {State.EXPECTED, State.ARRIVED, State.ABSENT}:
        raise ValidationError(f"{visit.enrolment.patient} is already {visit.get_state_display()}.")
    if _has_entries(visit):
        raise ValidationError("Something is recorded; hold or finish the visit instead.")
    visit.state, visit.absence, visit.arrived_at = State.ABSENT, absence, None
    save_as(visit, by=by, reason="absent")
    return visit


@transaction.atomic
def undo_arrival(planned: PlannedSession, *, by: User) -> PlannedSession | None:
    """Back to expected, as long as nothing was recorded.

    An absence takes its make-up back too, while that lies ahead; returned is what was given up.
    """
    visit = _visit_for(planned)
    if visit.pk is None:
        return None
    if visit.state not in {State.ARRIVED, State.ABSENT} or _has_entries(visit):
        raise ValidationError("Something is recorded; this visit cannot be undone.")
    was_absent = visit.state == State.ABSENT
    visit.state, visit.absence, visit.arrived_at = State.EXPECTED, "", None
    save_as(visit, by=by, reason="undone")
    made_up = make_up_of(visit.enrolment, (planned.on, planned.slot_id)) if was_absent else None
    if made_up is None or not is_ahead(visit.enrolment, made_up):
        return None
    give_up_make_up(made_up, by=by)
    return made_up


def _visit_for(planned: PlannedSession) -> Visit:
    """The visit of a planned session, locked, or a new one not yet stored."""
    # Whoever checks this person in holds the enrolment: two at once make one visit.
    enrolment = Enrolment.objects.select_for_update().get(pk=planned.enrolment_id)
    meeting, _ = ClassMeeting.objects.get_or_create(slot=planned.slot, on=planned.on)
    found = Visit.objects.select_for_update(of=("self",)).filter(
        enrolment=enrolment, meeting=meeting
    )
    return found.first() or Visit(enrolment=enrolment, meeting=meeting, on=planned.on)


def _has_entries(visit: Visit) -> bool:
    """Something was measured, asked, found or given: the person was here."""
    if visit.pk is None:
        return False
    kinds = [visit.readings, visit.findings, visit.carbohydrates, visit.bouts]
    return bool(visit.answers or visit.symptoms) or any(kind.exists() for kind in kinds)
