import pytest

from patients.calc.limits import NotScorable, OutOfRange
from programs.prescription.calc import intensity

# Worked example for Karvonen 1957: rest 62, peak 132, 40 to 59 % of reserve is 90.0 to 103.3.


def test_heart_rate_reserve_agrees_with_the_worked_example():
    assert intensity.heart_rate_at(62, 132, 0.40) == pytest.approx(90.0)
    assert intensity.heart_rate_at(62, 132, 0.59) == pytest.approx(103.3)


@pytest.mark.parametrize(("share", "expected"), [(0, 62), (1, 132), (0.5, 97)])
def test_heart_rate_reserve_ends_at_rest_and_peak(share, expected):
    assert intensity.heart_rate_at(62, 132, share) == pytest.approx(expected)


@pytest.mark.parametrize("share", [-0.01, 1.01, 40])
def test_share_must_be_a_fraction(share):
    with pytest.raises(OutOfRange, match="fraction"):
        intensity.heart_rate_at(62, 132, share)


@pytest.mark.parametrize(("rest", "peak"), [(62, 62), (70, 60)])
def test_peak_must_exceed_rest(rest, peak):
    with pytest.raises(NotScorable):
        intensity.heart_rate_at(rest, peak, 0.5)


@pytest.mark.parametrize(("rest", "peak"), [(19, 100), (60, 251), (float("nan"), 100)])
def test_impossible_rates_are_refused(rest, peak):
    with pytest.raises(OutOfRange):
        intensity.heart_rate_at(rest, peak, 0.5)


@pytest.mark.parametrize(("share", "expected"), [(0.40, 10.10), (0.59, 13.235)])
def test_uptake_reserve_agrees_with_the_worked_example(share, expected):
    # VO2peak 20: 40 to 59 % of reserve is 10.10 to 13.24 mL/kg/min
    assert intensity.vo2_at(20, share) == pytest.approx(expected)


@pytest.mark.parametrize("peak", [3.5, 91])
def test_uptake_reserve_refuses_impossible_peaks(peak):
    with pytest.raises(OutOfRange):
        intensity.vo2_at(peak, 0.5)


@pytest.mark.parametrize(
    ("share", "name"),  # Garber 2011, doi:10.1249/MSS.0b013e318213fefb, % of heart-rate reserve
    [(0.29, "very light"), (0.30, "light"), (0.39, "light"), (0.40, "moderate"),
     (0.59, "moderate"), (0.60, "vigorous"), (0.89, "vigorous"), (0.90, "near maximal")],
)  # fmt: skip
def test_effort_band(share, name):
    assert intensity.band_of(share).name == name


@pytest.mark.parametrize(
    ("bpm", "name"),  # Garber 2011, % of a peak of 200: 95 % belongs to vigorous
    [(113, "very light"), (114, "light"), (127, "light"), (128, "moderate"), (153, "moderate"),
     (154, "vigorous"), (190, "vigorous"), (191, "vigorous"), (192, "near maximal")],
)  # fmt: skip
def test_effort_band_of_a_share_of_the_peak(bpm, name):
    assert intensity.band_of_peak(bpm, 200).name == name


@pytest.mark.parametrize(
    ("rpe", "name"),  # Garber 2011, of 6 to 20
    [(6, "very light"), (8, "very light"), (9, "light"), (11, "light"), (12, "moderate"),
     (13, "moderate"), (14, "vigorous"), (17, "vigorous"), (18, "near maximal")],
)  # fmt: skip
def test_effort_band_of_an_rpe(rpe, name):
    assert intensity.band_of_rpe(rpe).name == name


def test_effort_bands_refuse_what_is_impossible():
    for refused in (lambda: intensity.band_of_rpe(5), lambda: intensity.band_of_peak(300, 200)):
        with pytest.raises(OutOfRange):
            refused()


def test_range_is_cut_at_the_upper_limit():
    limit = intensity.UpperLimit(100, "ischaemia")
    found = intensity.heart_rate_range(62, 132, (0.4, 0.59), limit)
    assert (found.low_bpm, found.high_bpm, found.is_capped) == (pytest.approx(90), 100, True)


def test_range_wholly_above_the_limit_is_refused():
    with pytest.raises(NotScorable, match="above the upper limit"):
        intensity.heart_rate_range(62, 132, (0.6, 0.8), intensity.UpperLimit(95, "ICD"))


def test_range_below_the_limit_is_untouched():
    found = intensity.heart_rate_range(62, 132, (0.4, 0.59), intensity.UpperLimit(140, "ICD"))
    assert not found.is_capped


def test_shares_the_wrong_way_round_are_refused():
    with pytest.raises(NotScorable):
        intensity.heart_rate_range(62, 132, (0.6, 0.4), None)


def test_whole_beats_never_leave_the_range():
    """Karvonen by hand: 61 + 0.40 x 57 = 83.8, 61 + 0.59 x 57 = 94.63; within are 84 to 94."""
    assert intensity.whole_beats(61 + 0.40 * 57, 61 + 0.59 * 57) == (84, 94)
    assert intensity.whole_beats(90, 103) == (90, 103)
