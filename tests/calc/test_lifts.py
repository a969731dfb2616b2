"""Lifts as they are written and read back."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from patients.calc.measuring import LB, STORED
from programs.prescription.calc.lifts import (
    MOST,
    Lift,
    NotALift,
    key_of,
    lifts_of,
    line_of,
    read_line,
    read_lines,
    stored,
    to_ask,
)

POUNDS = STORED._replace(weight=LB)
NAMES = st.from_regex(r"[A-Za-zÀ-ž][A-Za-zÀ-ž ]{0,30}[a-z]", fullmatch=True)


@pytest.mark.parametrize(
    ("typed", "lift"),
    [
        ("Leg press 12 × 40 kg", Lift("Leg press", 12, 40.0)),
        ("leg press 12x40", Lift("leg press", 12, 40.0)),
        ("Row, 10 * 22,5 kg", Lift("Row", 10, 22.5)),
        ("Row: 10 x 10 lb", Lift("Row", 10, 4.5359237)),  # the international pound, exactly
        ("Row: 10 x 10#", Lift("Row", 10, 4.5359237)),
        ("Heel raise 15 times", Lift("Heel raise", 15)),
        ("Heel raise 15", Lift("Heel raise", 15)),
        ("Press 2 hands 12 x 5 kg", Lift("Press 2 hands", 12, 5.0)),
        ("Phase 10 x 12 x 5 kg", None),
    ],
)
def test_a_line_as_it_is_typed(typed, lift):
    if lift is None:
        with pytest.raises(NotALift):
            read_line(typed)
        return
    assert read_line(typed) == lift


def test_a_bare_number_is_in_the_unit_of_the_box():
    assert read_line("Row 10 x 10", POUNDS).kg == pytest.approx(4.5359237)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("Leg press", "repetitions × load"),
        ("12 × 40 kg", "repetitions × load"),
        ("Leg press -12 × 40 kg", "repetitions × load"),
        ("Leg press " + "9" * 5000, "repetitions × load"),
        ("Leg press 12 × " + "9" * 5000, "a load up to 500 kg"),
        ("Leg press 1.5 × 40 kg", "repetitions × load"),
        ("Leg press 0 × 40 kg", "1 to 60 repetitions"),
        ("Leg press 61 × 40 kg", "1 to 60 repetitions"),
        ("Leg press 12 × 501 kg", "a load up to 500 kg"),
        ("Leg press 12 × 0 kg", "a load up to 500 kg"),
        ("Leg press 12 × much", "is no load"),
        ("Leg press 12 × 5 km/h", "is no load"),
        ("x" * 61 + " 12 × 5 kg", "at most 60 letters"),
        ("Row 5 × 5 kg\nrow 6 × 5 kg", "twice"),
        ("\n".join(f"No. {chr(97 + n)} 5 × 5 kg" for n in range(MOST + 1)), "At most 8"),
    ],
)
def test_what_cannot_be_is_refused_in_words(typed, words):
    with pytest.raises(NotALift, match=words):
        read_lines(typed)


@given(
    NAMES,
    st.integers(1, 60),
    st.none() | st.floats(0.1, 500),
    st.sampled_from([STORED, POUNDS]),
)
@example("Leg press", 12, 18.14369480000001, STORED)
def test_a_line_left_as_it_was_keeps_its_load_exactly(name, times, kg, units):
    lift = Lift(" ".join(name.split()), times, kg)
    assert read_lines(f"\n {line_of(lift, units)} \n", [lift], units) == (lift,)
    read = read_line(line_of(lift, units), units)
    assert (key_of(read.exercise), read.repetitions) == (key_of(lift.exercise), times)
    assert read.kg is None if kg is None else abs(read.kg - kg) <= 0.05


def test_what_may_be_a_slip_is_asked_about():
    before = [Lift("Leg press", 12, 40.0), Lift("Row", 10, 15.0), Lift("Heel raise", 15)]
    now = [Lift("leg press", 12, 46.5), Lift("Row", 12)]
    assert to_ask(before, now) == [
        "Leg press 46.5 kg, in force 40 kg",
        "Row without a load, in force 15 kg",
        "Heel raise is left out",
    ]
    assert to_ask(before, [Lift("Leg press", 15, 46.0), *before[1:], Lift("New", 5, 90.0)]) == []
    assert "in force 33.1 lb" in to_ask(before[1:2], now, POUNDS)[0]


def test_lifts_are_stored_by_the_names_of_a_bout():
    lifts = (Lift("Leg press", 12, 40.0), Lift("Heel raise", 15))
    rows = stored(lifts)
    assert rows[0] == {"exercise": "Leg press", "repetitions": 12, "load_kg": 40.0}
    assert lifts_of(rows) == lifts
