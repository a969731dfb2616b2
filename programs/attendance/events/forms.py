"""Forms of an event: written up, a line of its time line, the review."""

from datetime import datetime
from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms
from django.db.models import Q
from django.utils.timezone import localtime

from patients.boxes_of_time import MomentField
from patients.forms import CrispyModelForm, OnceForm
from patients.models import Patient
from programs.attendance.events.services import stamp_of
from programs.attendance.models import EventEntry, SafetyEvent
from programs.staff.models import Site


class EventForm(CrispyModelForm):
    """Times are the site's wall clock."""

    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    class Meta:
        model = SafetyEvent
        fields = ["kind", "happened_at", "patient", "what", "told", "outcome"]
        field_classes = {"happened_at": MomentField}
        widgets = {"what": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        patient: Any = self.fields["patient"]
        in_a_course = Q(enrolments__isnull=False, enrolments__closed_on=None)
        found = Patient.objects.filter(in_a_course | Q(pk=self.instance.patient_id), site=site)
        patient.queryset = found.distinct().order_by("family_name", "given_name")
        patient.empty_label = "to be named"
        self.fields["happened_at"].label = "Time"
        first = Div("kind", "happened_at", "patient", css_class="fields")
        self.helper.layout = Layout("seen_version", first, "what", "told", "outcome")


class EntryForm(OnceForm):
    at = MomentField(required=False, label="Time (now if empty)")
    words = forms.CharField(max_length=300, label="What")

    def when(self) -> datetime | None:
        return self.cleaned_data["at"]


class CorrectEntryForm(OnceForm):
    """A line of the time line, to be set right."""

    entry_pk = 0  # whose form was refused

    at = MomentField(label="Time")
    words = forms.CharField(max_length=300, label="What")
    stamp = forms.CharField(widget=forms.HiddenInput)

    @classmethod
    def of(cls, entry: EventEntry) -> "CorrectEntryForm":
        """The form of a stored line."""
        initial = {"at": localtime(entry.at), "words": entry.words, "stamp": stamp_of(entry)}
        return cls(initial=initial, auto_id=f"entry_{entry.pk}_%s")


class ReviewForm(forms.Form):
    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    review = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), label="Review")
