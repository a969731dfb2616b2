"""Boxes in two units: untouched they change nothing, a typed unit wins, the other is named."""

import pytest
from django import forms
from hypothesis import given
from hypothesis import strategies as st

from patients.calc.limits import HEIGHT_CM, TEMPERATURE_C, TREADMILL_KMH, WEIGHT_KG
from patients.calc.measuring import QUANTITY_OF, Units, units_from
from patients.forms import InUnits, OnceForm, UnitField

IMPERIAL = units_from(dict.fromkeys([q.switch for q in QUANTITY_OF.values()], True))


class Sample(InUnits, OnceForm):
    weight = UnitField(WEIGHT_KG)
    height = UnitField(HEIGHT_CM)
    speed = UnitField(TREADMILL_KMH)
    temperature = UnitField(TEMPERATURE_C)

    def __init__(self, *args, units=IMPERIAL, **kwargs):
        super().__init__(*args, **kwargs)
        self.choose_units(units)


def sent_back(form):
    """What a browser sends of a form that nobody touched."""
    return {name: str(form[name].value() or "") for name in form.fields}


VALUES = st.fixed_dictionaries(
    {
        "weight": st.floats(25, 350),
        "height": st.floats(100, 250),
        "speed": st.floats(0, 25),
        "temperature": st.floats(30, 43),
    }
)


@given(st.sets(st.sampled_from([q.switch for q in QUANTITY_OF.values()])), VALUES)
def test_an_untouched_form_saves_what_is_stored_bit_by_bit(second, stored):
    form = Sample(initial=dict(stored), units=units_from(dict.fromkeys(second, True)))
    data = sent_back(form)
    # Somebody chooses other units meanwhile: the form is read in those it was shown in.
    for units in (Units(), IMPERIAL):
        again = Sample(data, initial=dict(stored), units=units)
        assert again.is_valid(), again.errors
        assert {name: again.cleaned_data[name] for name in stored} == stored


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        # NIST SP 811, appendix B.8: 1 lb = 0.45359237 kg, 1 in = 2.54 cm, 1 mi = 1.609344 km.
        ({"weight": "182"}, 82.55381134),
        ({"weight": "82,5 kg"}, 82.5),
        ({"weight": "82.5\u00a0kg"}, 82.5),
        ({"height": "5'10 1/2\""}, 179.07),
        ({"height": "70"}, 177.8),
        ({"height": "178 cm"}, 178),
        ({"speed": "3"}, 4.828032),
        ({"speed": "5,2 km/h"}, 5.2),
        ({"temperature": "100.4"}, 38),
        ({"temperature": "37.2 °C"}, 37.2),
    ],
)
def test_a_typed_unit_wins_over_that_of_the_box(typed, stored):
    form = Sample(sent_back(Sample()) | typed)
    assert form.is_valid(), form.errors
    assert form.cleaned_data[next(iter(typed))] == pytest.approx(stored, abs=1e-9)


def test_a_form_without_units_is_in_the_stored_ones():
    form = Sample({"weight": "82", "speed": "5"})
    assert form.is_valid()
    assert form.cleaned_data["weight"] == 82
    assert form.cleaned_data["speed"] == 5


@pytest.mark.parametrize(
    ("name", "text", "units", "words"),
    [
        ("temperature", "98.6", Units(), "Is 98.6 in °F? Then write 98.6 °F."),
        ("temperature", "37", IMPERIAL, "37 °F (2.8 °C) is outside 30 to 43 °C. Is 37 in °C?"),
        ("height", "70", Units(), "outside 100 to 250 cm. Is 70 in inches? Then write 70 in."),
        ("height", "178", IMPERIAL, "Is 178 in cm? Then write 178 cm."),
        ("height", "5'1\" 2", IMPERIAL, "is not a number"),
        ("weight", "900 lb", Units(), "900 lb (408.2 kg) is outside 25 to 350 kg."),
        ("weight", "heavy", IMPERIAL, "give 55.1 to 771.6 lb, or a number with kg behind it"),
    ],
)  # fmt: skip
def test_what_fits_only_the_other_unit_is_refused_with_its_name(name, text, units, words):
    form = Sample(sent_back(Sample(units=units)) | {name: text}, units=units)
    assert not form.is_valid()
    assert words in form.errors[name][0]
    assert "Then write" not in form.errors[name][0] or "lb" not in text


def test_a_refused_form_shows_what_was_typed_in_the_unit_it_was_typed_in():
    data = sent_back(Sample()) | {"weight": "182 lb", "height": "tall"}
    form = Sample(data, units=Units())
    assert not form.is_valid()
    assert form["weight"].value() == "182 lb"
    assert form["weight_unit"].value() == "lb"
    assert form.fields["height"].unit == "ft in"


def test_an_empty_box_is_nothing_and_a_needed_one_is_asked_for():
    box = UnitField(WEIGHT_KG, required=True)
    with pytest.raises(forms.ValidationError, match="required"):
        box.clean(" \u00a0")
    assert UnitField(WEIGHT_KG).clean("  ") is None
