"""What a person takes home: an appointment letter, a phone script's facts, a calendar file."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

from programs.enrolment.models import ClassChange, Enrolment


def sessions_ahead(enrolment: Enrolment) -> list[Any]:
    """Planned sessions from today on, in order; ``at`` is the hour, also where one day differs."""
    today = enrolment.patient.site.today()
    ahead = enrolment.planned.filter(on__gte=today).select_related("slot__site")
    special = special_hours(enrolment)
    found: list[Any] = list(ahead.order_by("on", "slot__starts_at"))
    for planned in found:
        planned.at = special.get((planned.slot_id, planned.on), planned.slot.starts_at)
    return found


def calendar_file(enrolment: Enrolment) -> bytes:
    """The sessions ahead as an iCalendar file (RFC 5545), in the site's own time zone.

    Only what a shared family calendar may show: time and place, no name and no diagnosis.
    """
    site = enrolment.patient.site
    zone = ZoneInfo(site.timezone)
    calendar = Calendar()
    calendar.add("prodid", "-//Thirtysix//sessions//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for planned in sessions_ahead(enrolment):
        begins = datetime.combine(planned.on, planned.at, zone)
        event = Event()
        event.add("uid", f"session-{planned.pk}@{site.code.lower()}.thirtysix.invalid")
        event.add("summary", "Exercise class")
        event.add("dtstart", begins)
        event.add("dtend", begins + timedelta(minutes=planned.slot.minutes))
        event.add("location", site.name)
        if site.phone:
            event.add("description", f"If you cannot come, please call {site.phone}.")
        event.add("dtstamp", datetime.now(UTC))
        calendar.add_component(event)
    calendar.add_missing_timezones()
    return calendar.to_ical()


def special_hours(enrolment: Enrolment) -> dict[tuple[int, date], time]:
    """Start times of classes that are at another hour on one day, by class and day."""
    changes = ClassChange.objects.filter(slot__site=enrolment.patient.site, starts_at__isnull=False)
    return {(c.slot_id, c.on): c.starts_at for c in changes if c.starts_at is not None}
