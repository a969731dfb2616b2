"""Numbers in two units: factors from outside, every way to type them, nothing rounded by showing.

Factors: A. Thompson, B. N. Taylor, "Guide for the Use of the International System of Units (SI),"
NIST Special Publication 811, 2008, appendix B.8 (pound, inch, mile) and B.1/B.9 (Fahrenheit); the
glucose factor is of a molar mass of 180.156 g/mol (from memory).
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from patients.calc.measuring import (
    CELSIUS,
    CM,
    FAHRENHEIT,
    FEET,
    GLUCOSE,
    HEIGHT,
    KG,
    KMH,
    LB,
    MG_DL,
    MMOL_L,
    MPH,
    QUANTITIES,
    QUANTITY_OF,
    SPEED,
    STORED,
    TEMPERATURE,
    WEIGHT,
    NotRead,
    read,
    units_from,
)

NIST_KG_PER_LB = Decimal("0.45359237")
NIST_CM_PER_IN = Decimal("2.54")
NIST_KM_PER_MI = Decimal("1.609344")


@pytest.mark.parametrize(
    ("quantity", "text", "shown_in", "stored"),
    [
        (WEIGHT, "182 lb", KG, 182 * NIST_KG_PER_LB),
        (WEIGHT, "182", LB, 182 * NIST_KG_PER_LB),
        (WEIGHT, "182#", KG, 182 * NIST_KG_PER_LB),
        (WEIGHT, "181.5 lbs.", KG, Decimal("181.5") * NIST_KG_PER_LB),
        (WEIGHT, "82,5\u00a0kg", LB, Decimal("82.5")),
        (WEIGHT, " 82.5\u202fkg ", LB, Decimal("82.5")),
        (WEIGHT, "82.5", KG, Decimal("82.5")),
        (HEIGHT, "178", CM, 178),
        (HEIGHT, "178 cm", FEET, 178),
        (HEIGHT, "1.78 m", FEET, 178),
        (HEIGHT, "70", FEET, 70 * NIST_CM_PER_IN),
        (HEIGHT, "70 in", CM, 70 * NIST_CM_PER_IN),
        (HEIGHT, '70.5"', CM, Decimal("70.5") * NIST_CM_PER_IN),
        (HEIGHT, "70 1/2 in", CM, Decimal("70.5") * NIST_CM_PER_IN),
        (HEIGHT, "5'10 1/2\"", CM, Decimal("70.5") * NIST_CM_PER_IN),
        (HEIGHT, "5’10½”".replace("½", " 1/2"), CM, Decimal("70.5") * NIST_CM_PER_IN),
        (HEIGHT, "5′10″", CM, 70 * NIST_CM_PER_IN),
        (HEIGHT, "5 ft 10 in", CM, 70 * NIST_CM_PER_IN),
        (HEIGHT, "5ft10", CM, 70 * NIST_CM_PER_IN),
        (HEIGHT, "6'", CM, 72 * NIST_CM_PER_IN),
        (HEIGHT, "5.5 ft", CM, 66 * NIST_CM_PER_IN),
        (HEIGHT, "5 10", FEET, 70 * NIST_CM_PER_IN),
        (SPEED, "3.2 mph", KMH, Decimal("3.2") * NIST_KM_PER_MI),
        (SPEED, "3.2", MPH, Decimal("3.2") * NIST_KM_PER_MI),
        (SPEED, "5.2 km/h", MPH, Decimal("5.2")),
        (TEMPERATURE, "98.6 °F", CELSIUS, 37),
        (TEMPERATURE, "98.6f", CELSIUS, 37),
        (TEMPERATURE, "100.4", FAHRENHEIT, 38),  # and not 38.00000000000001, which is above 38
        (TEMPERATURE, "37,2 C", FAHRENHEIT, Decimal("37.2")),
        (GLUCOSE, "5.5 mmol/L", MG_DL, Decimal("5.5") * Decimal("18.0156")),
        (GLUCOSE, "99 mg/dL", MMOL_L, 99),
    ],
)
def test_a_number_is_read_in_the_unit_it_is_typed_in(quantity, text, shown_in, stored):
    assert read(quantity, text, shown_in).stored == pytest.approx(float(stored), abs=1e-9)


@pytest.mark.parametrize("text", ["100.4", "98.6", "95", "109.4"])
def test_fahrenheit_hits_the_limit_it_is_at(text):
    """t = (f - 32) / 1.8 (NIST SP 811, B.1), worked in decimals."""
    exact = (Decimal(text) - 32) / Decimal("1.8")
    assert read(TEMPERATURE, text, FAHRENHEIT).stored == float(round(exact, 9))


@pytest.mark.parametrize(
    ("quantity", "text", "shown_in"),
    [
        (WEIGHT, "1_8", KG), (WEIGHT, "1e2", KG), (WEIGHT, "nan", KG), (WEIGHT, "", KG),
        (WEIGHT, "lb", KG), (WEIGHT, "13 st", KG), (WEIGHT, "182 lb lb", KG),
        (WEIGHT, "182 mg/dL", KG), (WEIGHT, "70 1/2", LB), (WEIGHT, "82 kg 5", KG),
        (HEIGHT, "5'12\"", CM), (HEIGHT, "5.5'6\"", CM), (HEIGHT, "5'10 2/2", CM),
        (HEIGHT, "5'10 1/0", CM), (HEIGHT, "5'10.5 1/2", CM), (HEIGHT, "5 10", CM),
        (HEIGHT, "5-10", FEET), (GLUCOSE, "5.5 mmol/mol", MG_DL), (SPEED, "3 m/s", KMH),
        (TEMPERATURE, "310 K", CELSIUS),
    ],
)  # fmt: skip
def test_what_is_no_number_of_the_quantity_is_refused(quantity, text, shown_in):
    with pytest.raises(NotRead):
        read(quantity, text, shown_in)


@pytest.mark.parametrize(
    ("unit", "stored", "told"),
    [
        (LB, 82.55381134, "182 lb"), (KG, 82.55381134, "82.6 kg"), (KG, 81.45, "81.45 kg"),
        (FEET, 177.8, "5'10\""), (FEET, 179.07, "5'10.5\""), (FEET, 182.87, "6'0\""),
        (CM, 177.8, "177.8 cm"), (MPH, 4.828032, "3 mph"), (KMH, 4.828032, "4.83 km/h"),
        (FAHRENHEIT, 37, "98.6 °F"), (MG_DL, 99.0858, "99 mg/dL"), (MG_DL, 100, "100 mg/dL"),
        (MMOL_L, 99.0858, "5.5 mmol/L"),
    ],
)  # fmt: skip
def test_a_stored_value_is_told_in_either_unit(unit, stored, told):
    assert unit.told(stored) == told


@given(
    st.sampled_from([(limit, quantity) for limit, quantity in QUANTITY_OF.items()]),
    st.floats(0, 1),
    st.booleans(),
)
def test_what_is_shown_can_be_typed_again_and_is_near(pair, share, in_second):
    limit, quantity = pair
    stored = limit.low + share * (limit.high - limit.low)
    unit = quantity.second if in_second else quantity.first
    again = read(quantity, unit.text(stored), unit)
    step = abs(unit.to_stored(10.0**-unit.digits) - unit.to_stored(0))
    assert again.unit is unit
    assert again.stored == pytest.approx(stored, abs=step / 2 + 1e-6)
    assert unit.text(again.stored) == unit.text(stored)


def test_a_choice_gives_one_unit_for_each_quantity():
    assert units_from({}) == STORED
    chosen = units_from({quantity.switch: True for quantity in QUANTITIES})
    assert list(chosen) == [quantity.second for quantity in QUANTITIES]
    assert [str(unit) for unit in chosen] == ["mmol/L", "lb", "ft in", "mph", "°F"]


def test_a_form_that_names_no_unit_is_in_the_stored_one():
    assert [WEIGHT.unit(name) for name in ("", "stone", "lb")] == [KG, KG, LB]
