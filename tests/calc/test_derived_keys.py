"""What is computed beside a value is found by a key that never changes, not by its wording.

The keys in this list are stored with results: one that is renamed needs a migration of them.
"""

import re

from assessments.calc.catalogue import BY_KEY
from patients.calc.limits import NotScorable, OutOfRange
from tests.calc.test_measures import ON, inputs, person
from tests.calc.test_result_sheets import SHEETS

STORED = """average_glucose_mgdl brawner_bpm creatinine_mgdl diastolic_mmhg down_s
first_threshold_percent fox_bpm gulati_bpm height_cm ifcc_mmol_mol independent_from ldl_mgdl
ldl_si lower_limit mean mean_mets mets n_answered n_items n_trials one_leg_s pack_years
percent_predicted power_at_peak_w power_w predicted rate_pressure_product semi_tandem_s si
side_by_side_s tandem_s tanaka_bpm usual_from usual_to vo2_estimate weight_kg"""


def results():
    for row in SHEETS:
        measure = BY_KEY[row["measure"]]
        try:
            yield measure, measure.score(inputs(measure, row["given"]), person(row["who"]), ON)
        except (NotScorable, OutOfRange):
            continue


def test_every_derived_number_has_a_key_of_its_own_within_a_result():
    for measure, result in results():
        keys = [d.key for d in result.derived]
        assert len(set(keys)) == len(keys), measure.key
        assert all(re.fullmatch(r"[a-z][a-z0-9_]*", key) for key in keys), measure.key


def test_keys_are_the_ones_that_results_are_stored_with():
    assert {d.key for _, result in results() for d in result.derived} == set(STORED.split())


def test_one_key_means_one_thing_in_a_measure():
    said: dict = {}
    for measure, result in results():
        for d in result.derived:
            unit = said.setdefault((measure.key, d.key), d.unit)
            assert unit == d.unit, (measure.key, d.key)
