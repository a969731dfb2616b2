"""Every equation of the assessments against published or hand-worked values, and its refusals."""

from collections import Counter

import pytest

from assessments.calc import (
    activity_status,
    breathing_muscles,
    exercise_test,
    glycaemia,
    kidney,
    lipids,
    peak_heart_rate,
    peak_uptake,
    shuttle_walk,
    six_minute_walk,
    stairs,
    strength,
    submaximal,
    vitals,
)
from patients.calc.limits import NotScorable, OutOfRange
from tests.reference import rows


def two_stages(low_w, low_bpm, high_w, high_bpm, peak):
    return submaximal.power_at_peak_w(((low_w, low_bpm), (high_w, high_bpm)), peak)


EQUATIONS = {
    "average_glucose_mgdl": glycaemia.average_glucose_mgdl,
    "brawner": peak_heart_rate.brawner,
    "brzycki": strength.brzycki,
    "chronotropic_index": exercise_test.chronotropic_index,
    "climbing_power_w": stairs.climbing_power_w,
    "distance_m": shuttle_walk.distance_m,
    "dourado": shuttle_walk.dourado,
    "ebbeling": submaximal.ebbeling,
    "epley": strength.epley,
    "estimated_vo2_activity": activity_status.estimated_vo2,
    "estimated_vo2_shuttle": shuttle_walk.estimated_vo2,
    "expiratory": lambda **a: breathing_muscles.expiratory(**a).predicted,
    "expiratory.limit": lambda **a: breathing_muscles.expiratory(**a).lower_limit,
    "filtration_rate": kidney.filtration_rate,
    "fox": peak_heart_rate.fox,
    "friedewald": lipids.friedewald,
    "friend_2017": peak_uptake.friend_2017,
    "friend_2018": peak_uptake.friend_2018,
    "gibbons": lambda **a: six_minute_walk.gibbons(**a).metres,
    "gulati": peak_heart_rate.gulati,
    "ifcc_mmol_mol": glycaemia.ifcc_mmol_mol,
    "inspiratory": lambda **a: breathing_muscles.inspiratory(**a).predicted,
    "inspiratory.limit": lambda **a: breathing_muscles.inspiratory(**a).lower_limit,
    "itaki": shuttle_walk.itaki,
    "juergensen": shuttle_walk.juergensen,
    "ngsp_percent": glycaemia.ngsp_percent,
    "power_at_peak_w": two_stages,
    "probst": shuttle_walk.probst,
    "rate_pressure_product": vitals.rate_pressure_product,
    "sampson": lipids.sampson,
    "tanaka": peak_heart_rate.tanaka,
    "troosters": lambda **a: six_minute_walk.troosters(**a).metres,
    "wasserman": peak_uptake.wasserman,
}
WHOLE = {"age", "level", "shuttles", "mode", "repetitions", "steps"}
ONE_PRODUCT = {"rate_pressure_product"}  # a product needs no ten values


def plain(name: str, text: str):
    if name == "sex":
        return "" if text == "none" else text
    if text in {"yes", "no"}:
        return text == "yes"
    return int(text) if name in WHOLE else float(text)


def given(text: str) -> dict:
    pairs = [token.split("=") for token in text.split()]
    return {name: plain(name, value) for name, value in pairs}


@pytest.mark.parametrize("row", rows("equations"), ids=lambda r: f"{r['equation']} {r['given']}")
def test_equation_gives_the_published_value_or_refuses(row):
    compute = EQUATIONS[row["equation"]]
    if row["expected"] == "refused":
        with pytest.raises((NotScorable, OutOfRange)):
            compute(**given(row["given"]))
        return
    found = compute(**given(row["given"]))
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_every_equation_has_ten_values_with_a_source():
    table = rows("equations")
    assert all(row["source"] for row in table)
    values = Counter(row["equation"] for row in table if row["expected"] != "refused")
    assert set(values) == set(EQUATIONS)
    assert {name for name, n in values.items() if n < 10} == ONE_PRODUCT


def test_a_difference_in_mmol_mol_takes_no_intercept():
    """NGSP/IFCC master equation: 10 mmol/mol apart are 0.9148 per cent points apart."""
    apart = glycaemia.ngsp_percent(63) - glycaemia.ngsp_percent(53)
    assert apart == pytest.approx(0.9148, abs=1e-9)
