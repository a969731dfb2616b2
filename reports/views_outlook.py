"""Start outlook: how long until a referral received today starts, and what changes would do."""

from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import render

from patients.boxes_of_time import HourField
from patients.forms import plain_helper
from patients.wall import clock
from programs.enrolment.models import ClassSlot
from programs.enrolment.models.timetable import Weekday
from programs.staff.access import current_site
from programs.staff.request import StaffRequest
from reports.calc.start_outlook import (
    TARGET_DAYS,
    Clinic,
    Outlook,
    simulate,
    with_class,
    with_seats,
)
from reports.outlook import USUAL_PREPARING_DAYS, facts_of

USUAL_SEATS = 8
CHANGES = {"first": "What if", "second": "Or else"}  # columns beside the clinic as it is


@dataclass(frozen=True)
class Column:
    """One clinic that was simulated: its heading, and what differs from the clinic as it is."""

    title: str
    words: str
    outlook: Outlook


class OutlookForm(forms.Form):
    """Whose clinic, and how long somebody needs before they can start."""

    site = forms.ChoiceField(required=False)
    preparing = forms.IntegerField(
        min_value=0,
        max_value=60,
        initial=USUAL_PREPARING_DAYS,
        required=False,
        label="Days from referral until somebody can start",
    )

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site: Any = self.fields["site"]
        site.choices = [(one.pk, one.name) for one in sites]
        self.helper = plain_helper()


class ChangeForm(forms.Form):
    """What if: several things at once, each left empty to stay as it is."""

    weekday = forms.TypedChoiceField(
        choices=[("", "no further class"), *Weekday.choices],
        coerce=int,
        empty_value=None,
        required=False,
        label="One more class on",
    )
    at = HourField(required=False, label="at")
    seats = forms.IntegerField(
        min_value=1, max_value=40, initial=USUAL_SEATS, required=False, label="with seats"
    )
    wider = forms.TypedChoiceField(coerce=int, empty_value=None, required=False, label="More seats")
    more = forms.IntegerField(
        min_value=1, max_value=40, required=False, label="how many", help_text="empty: 1"
    )
    no_shows = forms.IntegerField(
        min_value=0, max_value=100, required=False, label="Never come, of those booked, %"
    )
    preparing = forms.IntegerField(
        min_value=0, max_value=60, required=False, label="Days until somebody can start"
    )

    def __init__(self, *args: Any, classes: list[ClassSlot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        wider: Any = self.fields["wider"]
        wider.choices = [("", "in no class"), *[(one.pk, f"in {_told(one)}") for one in classes]]
        self.classes = {one.pk: one for one in classes}
        self.helper = plain_helper()

    def applied(self, clinic: Clinic) -> tuple[Clinic, str]:
        """The clinic with these changes, and the changes in words; "" when there are none."""
        d, words = self.cleaned_data, []
        if d["weekday"] is not None:
            seats = d["seats"] or USUAL_SEATS
            clinic = with_class(clinic, d["weekday"], seats)
            at = f" at {clock(d['at'])}" if d["at"] else ""
            words.append(f"a class on {Weekday(d['weekday']).label}{at}, {seats} seats")
        if d["wider"] is not None:
            more = d["more"] or 1
            clinic = with_seats(clinic, d["wider"], more)
            seats = "seat" if more == 1 else "seats"
            words.append(f"{more} more {seats} in {_told(self.classes[d['wider']])}")
        if d["no_shows"] is not None:
            clinic = replace(clinic, no_show_share=d["no_shows"] / 100)
            words.append(f"{d['no_shows']} % never come")
        if d["preparing"] is not None:
            clinic = replace(clinic, preparing_days=d["preparing"])
            words.append(f"{d['preparing']} days until somebody can start")
        return clinic, "; ".join(words)


def _told(slot: ClassSlot) -> str:
    return f"{Weekday(slot.weekday).label} {clock(slot.starts_at)}"


@permission_required("reports.view_program", raise_exception=True)
def outlook(request: StaffRequest) -> HttpResponse:
    """Simulated from the clinic's own last six months; nothing is stored."""
    site = current_site(request)
    asked = request.GET if "preparing" in request.GET else None
    form = OutlookForm(asked, sites=request.user.my_sites(), initial={"site": site.pk})
    data: dict[str, Any] = form.cleaned_data if form.is_bound and form.is_valid() else {}
    preparing = data.get("preparing")
    facts = facts_of(site, site.today(), USUAL_PREPARING_DAYS if preparing is None else preparing)
    classes = list(ClassSlot.objects.filter(site=site, is_open=True))
    changes = [ChangeForm(asked, classes=classes, prefix=name) for name in CHANGES]
    columns = []
    if facts.clinic.classes:
        columns.append(Column("Now", "", simulate(facts.clinic)))
        for change in changes:
            clinic, words = change.applied(facts.clinic) if change.is_valid() else (None, "")
            if clinic is not None and words:
                columns.append(Column(CHANGES[change.prefix or ""], words, simulate(clinic)))
    context: dict[str, Any] = {
        "site": site,
        "form": form,
        "changes": list(zip(CHANGES.values(), changes, strict=True)),
        "columns": columns,
        "assumptions": facts.assumptions,
        "target": TARGET_DAYS,
    }
    return render(request, "reports/outlook.html", context)
