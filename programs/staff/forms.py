"""Forms of readiness: the opening check, a drill, a card."""

from typing import Any

from crispy_forms.layout import HTML, Div, Field, Layout
from django import forms

from patients.calc.measuring import QUANTITIES
from patients.forms import CrispyModelForm, DayField, OnceForm, YesNoField, plain_helper
from patients.rendering import why_each
from programs.staff.calc.readiness import ITEMS
from programs.staff.models import Credential, Site, User

NOT_CHECKED = "Not checked"


class HereForm(forms.Form):
    """Which of their sites somebody works at now, and the page to come back to."""

    next = forms.CharField(widget=forms.HiddenInput)
    site = forms.ChoiceField(label="Site", required=False)

    def __init__(self, sites: list[Site], here: Site, back: str) -> None:
        super().__init__(initial={"site": here.pk, "next": back}, auto_id="here_%s")
        self.helper = plain_helper()
        site: Any = self.fields["site"]
        site.choices = [(one.pk, one.name) for one in sites]


class CheckForm(OnceForm):
    """Each item in order, not in order, or not checked."""

    note = forms.CharField(
        max_length=200, required=False, label="What is not in order, and what is done about it"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for key, words, _ in ITEMS:
            field = YesNoField(label=words, unanswered=NOT_CHECKED)
            field.choices = [("", NOT_CHECKED), ("yes", "In order"), ("no", "Not in order")]
            self.fields[key] = field
        items = Div(*[key for key, _, _ in ITEMS], css_class="items")
        sources = HTML(why_each((words, source) for _, words, source in ITEMS))
        self.helper.layout = Layout("submission_key", "seen_version", items, "note", sources)

    def answers(self) -> dict[str, bool]:
        given = {key: self.cleaned_data[key] for key, _, _ in ITEMS}
        return {key: answer for key, answer in given.items() if answer is not None}


class MySettingsForm(OnceForm):
    """Units and keys of whoever is signed in; a unit not chosen is the site's."""

    has_letter_keys = forms.TypedChoiceField(
        choices=[("yes", "On"), ("no", "Off")],
        coerce=lambda answer: answer == "yes",
        label="Single keys",
        help_text="N, B, C, E and F on the class table, / to find a patient.",
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, user: User, site: Site | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["has_letter_keys"] = "yes" if user.has_letter_keys else "no"
        for quantity in QUANTITIES:
            own: bool | None = getattr(user, quantity.switch)
            usual = quantity.second if getattr(site, quantity.switch, False) else quantity.first
            field = YesNoField(label=quantity.name, unanswered=f"{usual}, as the site")
            field.choices = [
                ("", f"{usual}, as the site"),
                ("no", quantity.first.name),
                ("yes", quantity.second.name),
            ]
            self.fields[quantity.switch] = field
            self.initial[quantity.switch] = own
        units = Div(*[quantity.switch for quantity in QUANTITIES], css_class="fields")
        self.helper.layout = Layout(
            "submission_key",
            "seen_version",
            HTML("<h2>Units</h2>"),
            units,
            HTML("<h2>Keys</h2>"),
            Field("has_letter_keys", wrapper_class="pills"),
        )

    def chosen(self) -> dict[str, bool | None]:
        """What the service stores, by name; None follows the site."""
        names = ["has_letter_keys", *[quantity.switch for quantity in QUANTITIES]]
        return {name: self.cleaned_data[name] for name in names}


class DrillForm(OnceForm):
    on = DayField(label="Day")
    scenario = forms.CharField(max_length=120)
    who = forms.CharField(max_length=200, label="Who took part")
    learned = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 2}), label="What was learned"
    )


class CardForm(CrispyModelForm):
    expires_on = DayField(label="Valid until")

    class Meta:
        model = Credential
        fields = ["user", "kind", "number", "expires_on"]

    def __init__(self, *args: Any, sites: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        user: Any = self.fields["user"]
        people = User.objects.filter(sites__in=sites, is_active=True).distinct()
        user.queryset = people.order_by("last_name", "first_name")
        user.label = "Who"
