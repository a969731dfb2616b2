"""What a tablet times and counts. CDC STEADI: stands 30 s, stances 10 s. Rikli & Jones: 2 min."""

import pytest

from assessments.calc.running import COUNTED, COUNTED_BY_KEY, TIMED, TIMED_BY_KEY


def test_times_are_those_of_the_published_tests():
    assert COUNTED_BY_KEY["chair_stand_30s"].seconds == 30
    assert COUNTED_BY_KEY["two_minute_step"].seconds == 120
    assert TIMED_BY_KEY["four_stances"].stops_at == 10
    assert len(TIMED_BY_KEY["four_stances"].trials) == 4
    assert len(TIMED_BY_KEY["single_leg_stance"].trials) == 3


@pytest.mark.parametrize("test", TIMED, ids=lambda t: t.measure.key)
def test_every_trial_fills_an_input_of_its_measure(test):
    assert [key for key, _ in test.labelled] == list(test.trials)
    limits = {entry.key: entry.limit for entry in test.measure.inputs}
    for key in test.trials:
        limit = limits[key]
        assert limit.unit == "s"
        assert test.stops_at is None or test.stops_at <= limit.high


@pytest.mark.parametrize("test", COUNTED, ids=lambda t: t.measure.key)
def test_every_count_fills_a_whole_number(test):
    entry = next(entry for entry in test.measure.inputs if entry.key == test.into)
    assert entry.is_whole
