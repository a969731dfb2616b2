"""Start outlook: how long until a referral received today starts, and what one more class does."""

from typing import Any

from django import forms
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import render

from patients.boxes_of_time import HourField
from patients.forms import plain_helper
from patients.wall import clock
from programs.enrolment.models.timetable import Weekday
from programs.staff.access import current_site
from programs.staff.request import StaffRequest
from reports.calc.start_outlook import TARGET_DAYS, simulate, with_class
from reports.outlook import USUAL_PREPARING_DAYS, facts_of


class OutlookForm(forms.Form):
    """What if there were one more class?"""

    site = forms.ChoiceField(required=False)
    weekday = forms.TypedChoiceField(
        choices=[("", "no further class"), *Weekday.choices],
        coerce=int,
        empty_value=None,
        required=False,
        label="One more class on",
    )
    at = HourField(required=False, label="at")
    seats = forms.IntegerField(min_value=1, max_value=40, initial=8, required=False)
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


@permission_required("reports.view_program", raise_exception=True)
def outlook(request: StaffRequest) -> HttpResponse:
    """Simulated from the clinic's own last six months; nothing is stored."""
    user = request.user
    site = current_site(request)
    asked = request.GET if "preparing" in request.GET else None
    form = OutlookForm(asked, sites=user.my_sites(), initial={"site": site.pk})
    data: dict[str, Any] = form.cleaned_data if form.is_bound and form.is_valid() else {}
    preparing = data.get("preparing")
    facts = facts_of(site, site.today(), USUAL_PREPARING_DAYS if preparing is None else preparing)
    context: dict[str, Any] = {
        "site": site,
        "form": form,
        "assumptions": facts.assumptions,
        "target": TARGET_DAYS,
    }
    if facts.clinic.classes:
        context["now"] = simulate(facts.clinic)
        if data.get("weekday") is not None:
            wider = with_class(facts.clinic, data["weekday"], data.get("seats") or 8)
            context["what_if"] = simulate(wider)
            at = f" at {clock(data['at'])}" if data.get("at") else ""
            context["what_if_words"] = (
                f"with a class on {Weekday(data['weekday']).label}{at}, "
                f"{data.get('seats') or 8} seats"
            )
    return render(request, "reports/outlook.html", context)
