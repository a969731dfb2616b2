"""Events: opened in one press, written up afterwards, reviewed by a clinician."""

import uuid
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.claims import claim, note_made
from patients.history import save_as
from programs.attendance.models import EventEntry, SafetyEvent, Visit
from programs.staff.models import Site, User

FIELDS = ["kind", "happened_at", "what", "told", "outcome"]


@transaction.atomic
def open_event(
    site: Site,
    kind: str,
    *,
    happened_at: datetime | None = None,
    patient: Any = None,
    visit: Visit | None = None,
    what: str = "",
    words: str = "",
    key: uuid.UUID | None = None,
    by: User,
) -> SafetyEvent:
    """Start an event with the first line of its time line; everything else can follow.

    Raises
    ------
    AlreadyTaken : the same press was taken before; it names the event.
    ValidationError : the time lies ahead.
    """
    claim(key, by=by)
    now = timezone.now()
    at = happened_at or now
    if at > now:
        raise ValidationError("An event is noted once it has happened.")
    row = SafetyEvent(site=site, kind=kind, happened_at=at, patient=patient, visit=visit, what=what)
    save_as(row, by=by, reason="opened")
    note_made(key, row.pk)
    add_entry(row, words or "Time line started.", at=at, by=by)
    return row


@transaction.atomic
def add_entry(
    event: SafetyEvent,
    words: str,
    *,
    at: datetime | None = None,
    key: uuid.UUID | None = None,
    by: User,
) -> EventEntry:
    """One line of the time line, now or at a time given.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : the time lies ahead.
    """
    claim(key, by=by)
    now = timezone.now()
    if at is not None and at > now:
        raise ValidationError("The time line holds what has happened.")
    row = EventEntry(event=event, at=at or now, words=words, by=by)
    save_as(row, by=by, reason="time line")
    return row


@transaction.atomic
def correct_entry(
    entry: EventEntry,
    words: str,
    at: datetime,
    *,
    seen: str,
    key: uuid.UUID | None = None,
    by: User,
) -> EventEntry:
    """Set right what a line says, or when it was; the earlier version is kept.

    ``seen`` is ``stamp_of`` the line as it was shown.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : the time lies ahead, or somebody else changed the line meanwhile.
    """
    claim(key, by=by)
    row = EventEntry.objects.select_for_update().get(pk=entry.pk)
    if stamp_of(row) != seen:
        raise ValidationError(f"Somebody else changed this line meanwhile: {row}")
    if at > timezone.now():
        raise ValidationError("The time line holds what has happened.")
    is_same_minute = at.replace(second=0, microsecond=0) == row.at.replace(second=0, microsecond=0)
    row.words, row.at = words, row.at if is_same_minute else at
    save_as(row, by=by, reason="corrected")
    return row


def stamp_of(entry: EventEntry) -> str:
    """What a line says, as one text, by which a stale form is known."""
    return f"{entry.at.isoformat()} {entry.is_withdrawn} {entry.words}"


@transaction.atomic
def withdraw_entry(entry: EventEntry, *, is_withdrawn: bool = True, by: User) -> None:
    """A line entered in error stays, struck through; ``is_withdrawn=False`` takes that back."""
    row = EventEntry.objects.select_for_update().get(pk=entry.pk)
    if row.is_withdrawn == is_withdrawn:
        return
    row.is_withdrawn = is_withdrawn
    save_as(row, by=by, reason="entered in error" if is_withdrawn else "not in error")


@transaction.atomic
def change_event(event: SafetyEvent, *, seen: int, by: User, **given: Any) -> SafetyEvent:
    """Write an event up: kind, time, patient, what happened, who was told, outcome.

    Raises
    ------
    StaleVersion : somebody else saved it meanwhile.
    ValidationError : a field is refused, or the event is reviewed already.
    """
    row = SafetyEvent.objects.select_for_update().get(pk=event.pk)
    row.check_version(seen)
    if row.reviewed_at is not None:
        raise ValidationError("This event is reviewed; what follows goes into the time line.")
    if given.get("happened_at") and given["happened_at"] > timezone.now():
        raise ValidationError("An event is noted once it has happened.")
    for name, value in given.items():
        setattr(row, name, value)
    save_as(row, by=by, reason="saved")
    return row


@transaction.atomic
def review_event(event: SafetyEvent, review: str, *, seen: int, by: User) -> SafetyEvent:
    """A clinician's review closes an event.

    Raises
    ------
    StaleVersion : somebody else saved it meanwhile.
    ValidationError : it is reviewed already, or what happened or the outcome is not written.
    """
    row = SafetyEvent.objects.select_for_update().get(pk=event.pk)
    row.check_version(seen)
    if row.reviewed_at is not None:
        raise ValidationError("This event is already reviewed.")
    if not (review.strip() and row.what and row.outcome and row.patient_id):
        raise ValidationError(
            "Before the review: whom it concerns, what happened, its outcome, and your words."
        )
    row.review, row.reviewed_by, row.reviewed_at = review, by, timezone.now()
    save_as(row, by=by, reason="reviewed")
    return row
