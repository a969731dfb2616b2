"""Forms of a course: enrol, pause, resume, change, leave."""

from collections.abc import Iterable
from typing import Any

from crispy_forms.layout import Div, Field, Layout
from django import forms
from django.utils.html import format_html

from patients.forms import DayField, OnceForm, plain_helper
from patients.models import Condition
from programs.enrolment.calc.calendar import SESSIONS
from programs.enrolment.models import ClassSlot, Enrolment, PlannedSession
from programs.staff.models import Role, User

NOTHING_CHOSEN = ("", "choose")  # a list never answers for somebody


class ClassBoxes(forms.CheckboxSelectMultiple):
    """A box for each class; one that is full can be kept but not taken."""

    full: frozenset[int] = frozenset()

    def create_option(self, name: Any, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        if not option["selected"] and int(str(value)) in self.full:
            option["attrs"]["disabled"] = True
        return option


class ClassesField(forms.ModelMultipleChoiceField):
    """Weekly classes; ``offer_classes`` says of which site."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Classes")
        kwargs.setdefault("widget", ClassBoxes())
        super().__init__(ClassSlot.objects.none(), **kwargs)


def offer_classes(form: forms.Form, site: Any) -> None:
    field: Any = form.fields["slots"]
    field.queryset = ClassSlot.objects.filter(site=site, is_open=True)


def show_seats(form: forms.Form, rows: Iterable[Any]) -> None:
    """Say beside each class how many seats it keeps free."""
    field: Any = form.fields["slots"]
    words = '{} <span class="small dim">{}</span>'
    field.choices = [
        (row.slot.pk, format_html(words, row.slot, f"{row.free} free" if row.free else "full"))
        for row in rows
    ]
    field.widget.full = frozenset(row.slot.pk for row in rows if not row.free)
    field.label = "Classes, with the seats each keeps free over the next twelve weeks"
    if not field.choices:
        field.help_text = "This site has no open class."


class EnrolForm(OnceForm):
    starts_on = DayField(label="First session on or after")
    slots = ClassesField()
    sessions = forms.IntegerField(min_value=1, max_value=72, initial=SESSIONS)
    extension_reason = forms.CharField(
        required=False,
        max_length=120,
        label="More than 36: who approved",
        help_text="The payer’s approval; empty for a usual course.",
    )

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = site.today()
        offer_classes(self, site)
        first = Div("starts_on", "sessions", "extension_reason", css_class="fields")
        self.helper.layout = Layout("submission_key", first, Field("slots", wrapper_class="slots"))
        self.helper.form_show_errors = False  # the page shows them above the starts on offer

    def clean_starts_on(self) -> Any:
        day = self.cleaned_data["starts_on"]
        if day < self.today:
            raise forms.ValidationError("The first session cannot lie in the past.")
        return day


class ClinicianForm(forms.Form):
    clinician = forms.ModelChoiceField(
        User.objects.none(), required=False, label="Looked after by", empty_label="nobody yet"
    )

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        field: Any = self.fields["clinician"]
        here = User.objects.filter(sites=site, is_active=True, role=Role.CLINICIAN)
        field.queryset = here.order_by("last_name", "first_name")


class ChangeDaysForm(forms.Form):
    from_on = DayField(label="From")
    slots = ClassesField()

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        self.helper.layout = Layout("from_on", Field("slots", wrapper_class="slots"))
        offer_classes(self, site)


class MoveStartForm(forms.Form):
    starts_on = DayField(label="First session on or after")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class MoveSessionForm(forms.Form):
    session = forms.ModelChoiceField(PlannedSession.objects.none(), label="Session")
    on = DayField(label="To the day")
    slot = forms.ModelChoiceField(ClassSlot.objects.none(), label="In the class")

    def __init__(self, *args: Any, enrolment: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        site = enrolment.patient.site
        session, slot = self.fields["session"], self.fields["slot"]
        session.queryset = enrolment.planned.filter(on__gt=site.today()).select_related("slot")  # type: ignore[attr-defined]
        session.label_from_instance = lambda p: f"{p.on:%a %-d %b %Y}, {p.slot.starts_at:%H:%M}"  # type: ignore[attr-defined]
        slot.queryset = ClassSlot.objects.filter(site=site, is_open=True)  # type: ignore[attr-defined]


class TransferForm(forms.Form):
    from_on = DayField(label="From")
    slots = ClassesField(label="Classes there")

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        field: Any = self.fields["slots"]
        field.queryset = ClassSlot.objects.filter(
            site__in=[site.pk for site in sites], is_open=True
        ).select_related("site")
        field.label_from_instance = lambda slot: f"{slot.site.name}, {slot}"

    def clean_slots(self) -> Any:
        slots = self.cleaned_data["slots"]
        if len({slot.site_id for slot in slots}) > 1:
            raise forms.ValidationError("Choose classes of one site.")
        return slots


class NewEventForm(OnceForm):
    """A new qualifying event: the course ends, a new referral begins."""

    kind = forms.ChoiceField(choices=[NOTHING_CHOSEN, *Condition.Kind.choices], label="What")
    event_on = DayField(label="When")
    discharged_on = DayField(label="Discharge", required=False, help_text="Planned or past.")
    last_day = DayField(label="This course ends on")

    def __init__(self, *args: Any, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        event, out = data.get("event_on"), data.get("discharged_on")
        for name in ("event_on", "last_day"):
            if data.get(name) and data[name] > self.today:
                self.add_error(name, "This date lies in the future.")
        if event and out and out < event:
            self.add_error("discharged_on", "Discharge lies before the event.")
        return data


class PauseForm(forms.Form):
    from_on = DayField(label="Pause from")
    reason = forms.CharField(max_length=120)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class ResumeForm(forms.Form):
    back_on = DayField(label="Back on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class CloseForm(forms.Form):
    closed_on = DayField(label="Last day")
    outcome = forms.ChoiceField(
        choices=[NOTHING_CHOSEN, *Enrolment.Outcome.choices], label="Left because"
    )

    def __init__(self, *args: Any, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.helper = plain_helper()

    def clean_closed_on(self) -> Any:
        day = self.cleaned_data["closed_on"]
        if day > self.today:
            raise forms.ValidationError("The last day cannot lie in the future.")
        return day
