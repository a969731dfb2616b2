"""The whole calendar of one course: sessions, assessments, signatures, in one list by day."""

from dataclasses import dataclass
from datetime import date

from assessments.queries_schedule import lines_of
from patients.calc.days import short_day
from patients.wall import clock
from programs.enrolment.courses.letters import special_hours
from programs.enrolment.models import Enrolment
from programs.prescription.calc.signature import due_dates, next_signature_due


@dataclass(frozen=True)
class Entry:
    """One thing on one day. ``kind`` is "session", "assessment" or "signature"."""

    on: date
    kind: str
    words: str
    detail: str = ""
    is_past: bool = False


def entries(enrolment: Enrolment, today: date) -> list[Entry]:
    """Everything the course brings, in order. Due days move with pauses, so none is stored."""
    found = []
    planned = enrolment.planned.select_related("slot").order_by("on", "slot__starts_at")
    special = special_hours(enrolment)
    for number, session in enumerate(planned, start=1):
        words = f"Session {number} of {enrolment.sessions_planned}"
        hour = special.get((session.slot_id, session.on), session.slot.starts_at)
        at = clock(hour)
        found.append(Entry(session.on, "session", words, at, session.on < today))
    for line in lines_of(enrolment, today):
        milestone, on = line.milestone, line.performed_on or line.on
        window = (
            f"window {short_day(milestone.opens_on, today)} to "
            f"{short_day(milestone.closes_on, today)}"
        )
        words = "booked" if line.is_booked else f"{line.standing}; {window}"
        found.append(Entry(on, "assessment", milestone.name, words, on < today))
    found += _signatures(enrolment, today)
    order = ["session", "assessment", "signature"]
    return sorted(found, key=lambda entry: (entry.on, order.index(entry.kind)))


def _signatures(enrolment: Enrolment, today: date) -> list[Entry]:
    """Signatures given, and those due: 30 days from the last one, while the course lasts."""
    given = sorted(d for d in enrolment.plans.values_list("signed_on", flat=True) if d)
    found = [Entry(day, "signature", "Treatment plan signed", "", True) for day in given]
    due_on = next_signature_due(given[-1] if given else None, enrolment.starts_on)
    until = enrolment.closed_on or enrolment.planned_end_on
    detail = "30 days from the last one, 42 CFR 410.49"
    for day in due_dates(due_on, until):
        found.append(Entry(day, "signature", "Treatment plan signature due", detail, day < today))
    return found
