"""The whole calendar of one course: sessions, assessments, signatures, in one list by day."""

from dataclasses import dataclass
from datetime import date

from assessments.services import course_of
from programs.enrolment.models import Enrolment
from programs.prescription.calc.signature import due_dates


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
    for number, session in enumerate(planned, start=1):
        words = f"Session {number} of {enrolment.sessions_planned}"
        at = f"{session.slot.starts_at:%H:%M}"
        found.append(Entry(session.on, "session", words, at, session.on < today))
    for milestone in course_of(enrolment, today):
        window = f"window {milestone.opens_on:%-d %b} to {milestone.closes_on:%-d %b}"
        is_past = milestone.due_on < today
        found.append(Entry(milestone.due_on, "assessment", milestone.name, window, is_past))
    until = enrolment.closed_on or enrolment.planned_end_on
    for day in due_dates(enrolment.starts_on, until):
        words = "Treatment plan signature"
        detail = "every 30 days from the last one, 42 CFR 410.49"
        found.append(Entry(day, "signature", words, detail, day < today))
    order = ["session", "assessment", "signature"]
    return sorted(found, key=lambda entry: (entry.on, order.index(entry.kind)))
