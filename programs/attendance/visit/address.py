"""Days and classes in addresses."""

from datetime import date

from django.urls import reverse

from programs.attendance.models import ClassMeeting
from programs.enrolment.models import PlannedSession
from programs.staff.request import StaffRequest

FURTHEST_DAYS = 3660  # ten years either way


def chosen_day(request: StaffRequest, today: date) -> date:
    """The day in the address, or today when there is none or it makes no sense."""
    try:
        day = date.fromisoformat(request.GET.get("on", ""))
    except ValueError:
        return today
    return day if abs((day - today).days) <= FURTHEST_DAYS else today


def class_url(planned: PlannedSession | ClassMeeting) -> str:
    """Today's page of the class somebody is planned in, or that was held."""
    slot = planned.slot
    return f"{reverse('attendance:today')}?site={slot.site_id}&on={planned.on}&class={slot.pk}"
