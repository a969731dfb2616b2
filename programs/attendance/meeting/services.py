"""Opening a class, starting everybody who is ready, closing it."""

from collections.abc import Collection, Mapping
from datetime import date
from typing import NamedTuple

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from programs.attendance.calc.rules import Evaluation
from programs.attendance.findings.not_taken import lacking_at
from programs.attendance.findings.services import judge_again
from programs.attendance.missed.queries import missed_without_make_up, standing_of
from programs.attendance.models import ClassMeeting, NotTaken, Visit
from programs.attendance.visit.bouts import begin_first
from programs.attendance.visit.locking import lock_enrolments
from programs.attendance.visit.services import mark_absent
from programs.enrolment.courses.services import add_to_class
from programs.enrolment.models import ClassSlot, Enrolment, PlannedSession
from programs.enrolment.seats.booking import empty_seats
from programs.staff.calc.readiness import Card, Facts, Readiness, readiness
from programs.staff.models import Credential, Drill, OpeningCheck, Site, User

State = Visit.State
RUNNING = {State.ARRIVED, State.EXERCISING}


def readiness_of(
    site: Site, on: date, n_people: int, staff: Collection[User], supervisor: User | None
) -> Readiness:
    """What a class would still lack with these people on it. Four queries."""
    check = OpeningCheck.objects.filter(site=site, on=on).first()
    drill = Drill.objects.filter(site=site, is_withdrawn=False, on__lte=on).first()
    cards = Credential.objects.filter(user__in=[p.pk for p in staff])
    return readiness(
        Facts(
            on=on,
            n_people=n_people,
            staff={person.pk: str(person) for person in staff},
            cards=[Card(c.user_id, c.kind, c.expires_on) for c in cards],
            supervisor=str(supervisor) if supervisor else "",
            check=check.answers if check else None,
            last_drill_on=drill.on if drill else None,
            patients_per_staff=site.patients_per_staff,
            least_staff=site.least_staff,
        )
    )


def n_expected(slot: ClassSlot, on: date) -> int:
    """People planned in a class, without those recorded absent: their seats may be used."""
    return slot.planned.filter(on=on).count() - empty_seats([slot], (on, on))[on, slot.pk]


def meeting_of(slot: ClassSlot, on: date) -> ClassMeeting:
    """The meeting of a class on a day, locked; made when there is none yet."""
    row, _ = ClassMeeting.objects.get_or_create(slot=slot, on=on)
    return ClassMeeting.objects.select_for_update().get(pk=row.pk)


@transaction.atomic
def open_class(
    slot: ClassSlot,
    on: date,
    *,
    staff: Collection[User],
    supervisor: User | None,
    presence: str = "",
    exception: str = "",
    by: User,
) -> ClassMeeting:
    """Open a class with its staff; what is missing needs a written exception, kept with it.

    Raises
    ------
    ValidationError : somebody with an expired card or of another site is assigned, a day ahead,
        or something is missing and no exception is written.
    """
    site = slot.site
    if on > site.today():
        raise ValidationError("A class is opened on its day.")
    row = meeting_of(slot, on)
    n_people = n_expected(slot, on)
    unmet = readiness_of(site, on, n_people, staff, supervisor).sentences
    _check_people(site, [*staff, *([supervisor] if supervisor else [])], on)
    if unmet and not exception.strip():
        raise ValidationError(
            ["Something asked for is missing. Write why the class opens all the same.", *unmet]
        )
    row.supervisor, row.presence = supervisor, presence
    row.unmet, row.exception = unmet, exception.strip() if unmet else ""
    row.opened_at, row.opened_by = row.opened_at or timezone.now(), row.opened_by or by
    save_as(row, by=by, reason="opened")
    row.staff.set(staff)
    return row


def _check_people(site: Site, people: Collection[User], on: date) -> None:
    """Refuse people of another site, and anybody whose card ended and was not renewed."""
    strangers = [str(p) for p in people if site.pk not in p.site_ids()]
    if strangers:
        raise ValidationError(f"Not on the staff of {site}: {', '.join(strangers)}.")
    cards = Credential.objects.filter(user__in=[p.pk for p in people]).select_related("user")
    valid = {(c.user_id, c.kind) for c in cards if c.expires_on >= on}
    ended = [c for c in cards if c.expires_on < on and (c.user_id, c.kind) not in valid]
    if ended:
        words = "; ".join(
            f"{c.user}: {c.get_kind_display()} ended {c.expires_on:%-d %b %Y}" for c in ended
        )
        raise ValidationError(f"Nobody is assigned with an expired card. {words}.")


class Unfinished(NamedTuple):
    """Somebody for whom a class cannot close yet, and the step that ends it."""

    visit: int
    words: str
    step: str


STEP_LEFT = {State.ARRIVED: "Start or hold", State.EXERCISING: "Finish"}


def unfinished(meeting: ClassMeeting) -> list[Unfinished]:
    """Who still has something to be done before a class can close."""
    visits = meeting.visits.select_related("enrolment__patient").prefetch_related("findings")
    found, answers = [], []
    for v in visits.order_by("pk"):
        who = v.enrolment.patient
        if v.state in RUNNING:
            words = f"{who} is {v.get_state_display()}"
            found.append(Unfinished(v.pk, words, STEP_LEFT[State(v.state)]))
        elif any(f.bars_start for f in v.findings.all()):
            words = f"{who} has an alert nobody has answered"
            answers.append(Unfinished(v.pk, words, "Answer the alert"))
    return found + answers


@transaction.atomic
def close_class(
    slot: ClassSlot, on: date, absences: Mapping[int, str], *, by: User
) -> ClassMeeting:
    """Close a class: everybody still expected is noted absent with the reason given.

    ``absences`` maps planned sessions to reasons; somebody not in it did not say.

    Raises
    ------
    ValidationError : the class is not open, or somebody is still here or has an open finding.
    """
    row = meeting_of(slot, on)
    if not row.is_open:
        raise ValidationError("This class was never opened.")
    if row.closed_at is not None:
        return row  # pressed twice: the first closing stands, with its hour and its hand
    keeps = unfinished(row)
    if keeps:
        raise ValidationError(["Not everybody is done.", *[one.words for one in keeps]])
    seen = Visit.objects.filter(meeting=row).exclude(state=State.EXPECTED).values("enrolment")
    waiting = PlannedSession.objects.filter(slot=slot, on=on).exclude(enrolment__in=seen)
    for planned in waiting.select_related("slot__site", "enrolment__patient"):
        mark_absent(planned, absences.get(planned.pk) or Visit.Absence.UNKNOWN, by=by)
    row.closed_at, row.closed_by = timezone.now(), by
    save_as(row, by=by, reason="closed")
    return row


@transaction.atomic
def add_somebody(
    enrolment: Enrolment, slot: ClassSlot, on: date, *, approval: str = "", by: User
) -> PlannedSession:
    """A make-up or an extra session, counted on top of what is done and still planned.

    It stands for the latest missed session that nothing stands for yet; such a make-up may sit in
    the seat of somebody absent.

    Raises
    ------
    ValidationError : as ``enrolment.courses.services.add_to_class``.
    """
    Enrolment.objects.select_for_update().get(pk=enrolment.pk)
    standing = standing_of(enrolment, grace_days=0)
    sessions = standing.counted + standing.booked + 1
    makes_up = missed_without_make_up(enrolment) if standing.missing else None
    return add_to_class(
        enrolment, slot, on, sessions=sessions, approval=approval, makes_up=makes_up, by=by
    )


@transaction.atomic
def reopen_class(slot: ClassSlot, on: date, *, by: User) -> None:
    """Take a closing back; absences stay as they were noted."""
    row = meeting_of(slot, on)
    row.closed_at = row.closed_by = None
    save_as(row, by=by, reason="closing taken back")


@transaction.atomic
def start_ready(meeting: ClassMeeting, *, by: User) -> tuple[list[Visit], list[tuple[Visit, str]]]:
    """Start everybody who is measured and asked, and has no open hold or stop.

    Each is judged again by the record and the limits of this moment. Returns who started, and
    who did not with the reason.

    Raises
    ------
    ValidationError : the class is not open.
    """
    if not meeting.is_open:
        raise ValidationError("Open the class first.")
    started, left = [], []
    lock_enrolments(meeting)
    rows = (
        meeting.visits.select_for_update(of=("self",))
        .filter(state=State.ARRIVED)
        .select_related("enrolment__patient__site", "enrolment__referral", "rhythm")
        .prefetch_related("readings", "bouts")
    )
    for visit in rows.order_by("pk"):
        judged = judge_again(visit, by=by)
        why = _not_ready(visit, judged)
        if why:
            left.append((visit, why))
            continue
        visit.state, visit.started_at = State.EXERCISING, timezone.now()
        save_as(visit, by=by, reason="start")
        begin_first(visit, by=by)
        started.append(visit)
    return started, left


def _not_ready(visit: Visit, judged: Evaluation) -> str:
    """Why somebody is left to a clinician's own eyes; empty when nothing is in the way."""
    if any(f.bars_start for f in visit.findings.all()):
        return "a finding is open"
    lacking = lacking_at(visit, judged.missing, NotTaken.Step.START)
    return f"not taken yet: {', '.join(one.what for one in lacking)}" if lacking else ""
