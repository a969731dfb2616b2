"""Forms of a course: pause, resume, change, leave."""

from typing import Any

from crispy_forms.layout import Field, Layout
from django import forms

from patients.calc.days import in_words
from patients.forms import NOTHING_CHOSEN, DayField, OnceForm, plain_helper
from patients.models import Condition
from patients.wall import clock
from programs.enrolment.models import ClassSlot, Enrolment, PlannedSession
from programs.enrolment.seats.forms import ClassesField, offer_classes
from programs.staff.models import Role, User


class ClinicianForm(forms.Form):
    clinician = forms.ModelChoiceField(
        User.objects.none(), required=False, label="Assigned to", empty_label="Unassigned"
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
        session.label_from_instance = (  # type: ignore[attr-defined]
            lambda p: f"{p.on:%a} {in_words(p.on)}, {clock(p.slot.starts_at)}"
        )
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

    kind = forms.ChoiceField(choices=[NOTHING_CHOSEN, *Condition.of_the_heart()], label="What")
    event_on = DayField(label="When")
    discharged_on = DayField(
        label="Hospital discharge", required=False, help_text="Planned or past."
    )
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
        choices=[NOTHING_CHOSEN, *Enrolment.Outcome.choices], label="Discharge"
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
