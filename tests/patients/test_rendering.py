"""Boxes drawn without templates are what Django's templates, and ours, would write."""

import re
from datetime import date
from decimal import Decimal

import pytest
from crispy_forms.utils import render_crispy_form
from django import forms
from django.forms.renderers import DjangoTemplates
from django.template import engines
from django.utils.html import escape, format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext_lazy
from hypothesis import given, settings
from hypothesis import strategies as st

from patients.calc.limits import HEART_RATE_BPM
from patients.forms import DayField, NumberField, PressureField, plain_helper
from patients.rendering import DRAWN, FormRenderer, fill, fill_each, question

GROUPS = [("", "choose"), ("a", "A & B"), ("Later", [("b", "<b>"), (3, "three")]), (None, "none")]
WIDGETS = [
    forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    forms.TextInput(attrs={"class": 'a"b', "disabled": True, "readonly": False, "maxlength": 0}),
    forms.NumberInput(), forms.HiddenInput(), forms.DateInput(attrs={"type": "date"}),
    forms.TimeInput(format="%H:%M"), forms.PasswordInput(render_value=True), forms.CheckboxInput(),
    forms.Textarea(attrs={"rows": 3}), forms.Select(choices=GROUPS),
    forms.SelectMultiple(choices=GROUPS), forms.RadioSelect(choices=GROUPS),
    forms.RadioSelect(attrs={"class": "pills", "id": "x"}, choices=GROUPS),
    forms.CheckboxSelectMultiple(choices=GROUPS), forms.NullBooleanSelect(), forms.URLInput(),
    forms.FileInput(),
]  # fmt: skip
TEXTS = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20),
    st.sampled_from(["a", "b", "3", "<script>", "'\"&", mark_safe("&amp;<i>")]),
)  # fmt: skip


def in_one_line(html):
    """Line breaks count as spaces, and beside tags as nothing."""
    return re.sub(r" ?([<>]) ?", r"\1", re.sub(r"\s+", " ", html)).strip()


@pytest.mark.parametrize("widget", WIDGETS, ids=lambda w: type(w).__name__)
@given(value=TEXTS, name=st.sampled_from(["n", 'n"<']), key=st.sampled_from([None, "id_n", '"&']))
@settings(max_examples=60, deadline=None)
def test_a_box_is_written_as_django_writes_it(widget, value, name, key):
    attrs = {"id": key} if key else {}
    ours = widget.render(name, value, attrs, renderer=FormRenderer())
    theirs = widget.render(name, value, attrs, renderer=DjangoTemplates())
    assert in_one_line(ours) == in_one_line(theirs)


def test_the_common_boxes_are_among_them():
    """Else the comparison above would hold by comparing Django with itself."""
    compared = {widget.template_name for widget in WIDGETS}
    ours = {"house/written.html"}  # has no template of Django's: tests/patients/test_boxes_of_time
    assert set(DRAWN) - {"django/forms/widgets/input.html"} - ours <= compared


# How the house writes a question, as a template.
AS_TEMPLATE = """
{% if field.is_hidden %}{{ field }}{% elif field.widget_type == "checkbox" %}
<div class="entry tick{% if wrapper_class %} {{ wrapper_class }}{% endif %}">
{{ field }}<label for="{{ field.id_for_label }}">NAME</label>BESIDE</div>
{% elif field.use_fieldset %}
<div class="entry{% if wrapper_class %} {{ wrapper_class }}{% endif %}">
{% if field.label %}<fieldset
{% if field.aria_describedby %}aria-describedby="{{ field.aria_describedby }}"{% endif %}>
<legend>NAME</legend><div class="options">{{ field }}</div>BESIDE</fieldset>
{% else %}<div class="options">{{ field }}</div>BESIDE{% endif %}</div>
{% else %}<div class="entry{% if wrapper_class %} {{ wrapper_class }}{% endif %}">
{% if field.label %}<label{% if field.id_for_label %} for="{{ field.id_for_label }}"{% endif %}>
NAME</label>{% endif %}
{% if field.field.unit and not field.field.names_unit %}
<div class="measured">{{ field }} <span class="unit">{{ field.field.unit }}</span></div>
{% else %}{{ field }}{% endif %}BESIDE</div>{% endif %}
"""
NAME = """{{ field.label }}{% if field.field.required %}
<span class="needed" aria-hidden="true">*</span>{% endif %}"""
BESIDE = """{% if field.errors %}
<div class="wrong"{% if field.auto_id %} id="{{ field.auto_id }}_error"{% endif %}>
{% for error in field.errors %}
<p{% if field.auto_id %} id="error_{{ forloop.counter }}_{{ field.auto_id }}"{% endif %}>
{{ error }}</p>
{% endfor %}</div>{% endif %}
{% if field.field.question %}
<div class="wrong" id="{{ field.auto_id }}_question">
<p>{{ field.field.question }}</p></div>{% endif %}
{% if field.help_text %}
<div class="hint"{% if field.auto_id %} id="{{ field.auto_id }}_helptext"{% endif %}>
{{ field.help_text|safe }}</div>{% endif %}"""
TEMPLATE = AS_TEMPLATE.replace("NAME", NAME).replace("BESIDE", BESIDE)


class Sample(forms.Form):
    name = forms.CharField(label="Name <b>", max_length=3, help_text="As on the <i>card</i>.")
    rate = NumberField(HEART_RATE_BPM, whole=True, required=True)
    named = NumberField(HEART_RATE_BPM, names_unit=True, label="HR, /min")
    pressure = PressureField()
    day = DayField(required=False)
    agreed = forms.BooleanField()
    one = forms.ChoiceField(choices=GROUPS, widget=forms.RadioSelect, help_text="One of these.")
    some = forms.MultipleChoiceField(choices=GROUPS, widget=forms.CheckboxSelectMultiple, label="")
    bare = forms.CharField(label="", required=False)
    kept = forms.CharField(widget=forms.HiddenInput, required=False)


@pytest.mark.parametrize("auto_id", ["id_%s", False])
@pytest.mark.parametrize("wrapper", ["", "wide pills"])
@pytest.mark.parametrize("data", [None, {"name": "longer", "rate": "900", "one": "z", "some": "a"}])
def test_a_question_stands_as_the_house_writes_it(data, wrapper, auto_id):
    form = Sample(data, auto_id=auto_id)
    form.fields["rate"].question = "Is 12 right?"
    template = engines["django"].from_string(TEMPLATE)
    for field in form:
        expected = template.render({"field": field, "wrapper_class": wrapper})
        assert in_one_line(question(field, wrapper)) == in_one_line(expected), field.name


def test_crispy_draws_by_it():
    form = Sample()
    form.helper = plain_helper()
    html = render_crispy_form(form)
    assert 'Name &lt;b&gt;<span class="needed"' in html
    assert '<span class="unit">' in html


@pytest.mark.parametrize(
    "value",
    [
        "<b>&'\"", mark_safe("<b>"), 3, 2.5, None, date(2026, 2, 3),
        gettext_lazy("a < b"), escape("<i>"), Decimal("1.50"),
    ],
)  # fmt: skip
def test_what_is_filled_in_is_escaped_as_django_escapes(value):
    form = "<td>{}</td><td>{}</td>"
    assert fill(form, value, "x") == format_html(form, value, "x")
    assert isinstance(fill(form, value, "x"), SafeString)
    rows = [(value, 1), ("<", value)]
    assert fill_each(form, rows) == format_html_join("", form, rows)
    assert isinstance(fill_each(form, iter(rows)), SafeString)
