"""How hard: heart-rate reserve, oxygen-uptake reserve, effort bands, upper limits.

How a range is lowered to a limit, and how it is written, is a project choice.
"""

from dataclasses import dataclass
from math import ceil, floor

from assessments.calc.metabolic import RESTING_VO2
from patients.calc.limits import HEART_RATE_BPM, ICD_MARGINS_IN_USE, RPE, NotScorable, OutOfRange

VERSION = "intensity-1"
ISCHAEMIA_MARGIN_BPM = 10  # stay at least this far below an ischaemic threshold (from memory)
# And below an ICD's lowest detection rate, told wherever the margin is told.
ICD_MARGIN_BPM = ICD_MARGINS_IN_USE[0]
USUAL_START = (0.40, 0.59)  # moderate band; usual start in cardiac rehabilitation
# Without a test: RPE first (HANDI, RACGP), heart rate at rest +20 to +30 (from memory).
UNTESTED_ABOVE_REST_BPM = (20, 30)
USUAL_RPE = (12, 13)


@dataclass(frozen=True)
class Band:
    """An effort band by its lower ends."""

    name: str
    low_percent: float  # of the heart-rate or uptake reserve
    peak_percent: float  # of the peak heart rate: the same per cent means another effort
    rpe: int


# Garber 2011, ACSM position stand, doi:10.1249/MSS.0b013e318213fefb. One table prints near maximal
# from 95 % of the peak, which is vigorous here: the bands of ``band_of_peak`` include it there.
HRR_BANDS = (
    Band("very light", 0, 0, 6),
    Band("light", 30, 57, 9),
    Band("moderate", 40, 64, 12),
    Band("vigorous", 60, 77, 14),
    Band("near maximal", 90, 96, 18),
)


def _check_share(share: float) -> None:
    if not 0 <= share <= 1:
        raise OutOfRange("Share of the reserve", share, 0, 1, "(a fraction, not per cent)")


def whole_beats(low_bpm: float, high_bpm: float) -> tuple[int, int]:
    """A range in whole beats: the low end up, the high end down, so that it never grows.

    Parameters
    ----------
    low_bpm, high_bpm : both ends. [beats/min]

    Returns
    -------
    Both ends. [beats/min]
    """
    return ceil(low_bpm), floor(high_bpm)


def heart_rate_at(resting_bpm: float, peak_bpm: float, share: float) -> float:
    """Heart rate at a given share of the heart-rate reserve [1]_.

    Parameters
    ----------
    resting_bpm : seated resting heart rate. [beats/min], 20 to 250
    peak_bpm : highest rate of an exercise test on current medicines. [beats/min], above resting
    share : share of the reserve. [1], 0 to 1

    Returns
    -------
    Heart rate. [beats/min], unrounded

    Raises
    ------
    OutOfRange : a rate is impossible or the share is not a fraction.
    NotScorable : the peak is not above the resting rate.

    References
    ----------
    .. [1] M. J. Karvonen, E. Kentala, O. Mustala, "The effects of training on heart rate,"
       Ann. Med. Exp. Biol. Fenn., vol. 35, pp. 307-315, 1957.
    """
    HEART_RATE_BPM.check(resting_bpm)
    HEART_RATE_BPM.check(peak_bpm)
    _check_share(share)
    if peak_bpm <= resting_bpm:
        raise NotScorable(f"Peak {peak_bpm:g} must be above resting {resting_bpm:g}.")
    return resting_bpm + share * (peak_bpm - resting_bpm)


def vo2_at(peak_vo2: float, share: float) -> float:
    """Oxygen uptake at a share of the uptake reserve, 3.5 + share x (peak - 3.5).

    Parameters
    ----------
    peak_vo2 : measured or estimated peak uptake. [mL/kg/min], 3.5 to 90
    share : share of the reserve. [1], 0 to 1

    Returns
    -------
    Oxygen uptake. [mL/kg/min]

    Raises
    ------
    OutOfRange : an input lies outside its limits.

    References
    ----------
    Garber 2011, doi:10.1249/MSS.0b013e318213fefb (definition of the reserve).
    """
    if not RESTING_VO2 < peak_vo2 <= 90:
        raise OutOfRange("Peak oxygen uptake", peak_vo2, RESTING_VO2, 90, "mL/kg/min")
    _check_share(share)
    return RESTING_VO2 + share * (peak_vo2 - RESTING_VO2)


def mets_between(peak_vo2: float, shares: tuple[float, float]) -> tuple[float, float]:
    """Work at two shares of the uptake reserve.

    Parameters
    ----------
    peak_vo2 : measured or estimated peak uptake. [mL/kg/min], above 3.5, at most 90
    shares : shares of the reserve. [1], each 0 to 1

    Returns
    -------
    Work at the first and at the second share. [METs]

    Raises
    ------
    OutOfRange : an input lies outside its limits.

    References
    ----------
    As ``vo2_at``.
    """
    low, high = (vo2_at(peak_vo2, share) / RESTING_VO2 for share in shares)
    return low, high


def band_of(share: float) -> Band:
    """The effort band that a share of the heart-rate reserve falls in.

    Parameters
    ----------
    share : share of the reserve. [1], 0 to 1

    Returns
    -------
    The band; a share at its lower end belongs to it.

    Raises
    ------
    OutOfRange : the share is not a fraction.

    References
    ----------
    As ``HRR_BANDS``.
    """
    _check_share(share)
    return [band for band in HRR_BANDS if share * 100 >= band.low_percent][-1]


def band_of_peak(bpm: float, peak_bpm: float) -> Band:
    """The effort band of a rate by its share of the tested peak.

    Parameters
    ----------
    bpm : the rate. [beats/min], 20 to 250
    peak_bpm : highest rate of an exercise test on current medicines. [beats/min], 20 to 250

    Returns
    -------
    The band; a share at its lower end belongs to it.

    Raises
    ------
    OutOfRange : a rate is impossible.

    References
    ----------
    As ``HRR_BANDS``.
    """
    share = 100 * HEART_RATE_BPM.check(bpm) / HEART_RATE_BPM.check(peak_bpm)
    return [band for band in HRR_BANDS if share >= band.peak_percent][-1]


def band_of_rpe(rpe: float) -> Band:
    """The effort band of a perceived exertion.

    Parameters
    ----------
    rpe : perceived exertion. [on the 6–20 scale], 6 to 20

    Returns
    -------
    The band; a number at its lower end belongs to it.

    Raises
    ------
    OutOfRange : outside the scale.

    References
    ----------
    As ``HRR_BANDS``.
    """
    RPE.check(rpe)
    return [band for band in HRR_BANDS if rpe >= band.rpe][-1]


@dataclass(frozen=True)
class UpperLimit:
    bpm: float
    reason: str


@dataclass(frozen=True)
class HeartRateRange:
    low_bpm: float
    high_bpm: float
    is_capped: bool = False  # the upper end was lowered to the upper limit


def heart_rate_range(
    resting_bpm: float, peak_bpm: float, shares: tuple[float, float], limit: UpperLimit | None
) -> HeartRateRange:
    """The range between two shares of the reserve, never above the upper limit.

    Parameters
    ----------
    resting_bpm : seated resting heart rate. [beats/min], 20 to 250
    peak_bpm : highest rate of an exercise test. [beats/min], above resting, at most 250
    shares : lower and upper share. [1], each 0 to 1
    limit : upper limit. [beats/min]; None when nothing sets one

    Returns
    -------
    Both ends [beats/min], unrounded, and whether the upper one was lowered to the limit.

    Raises
    ------
    NotScorable : the whole range lies above the upper limit, the shares are the wrong way, or the
        peak is not above the resting rate.
    OutOfRange : a rate is impossible or a share is not a fraction.

    References
    ----------
    As ``heart_rate_at``.
    """
    low_share, high_share = shares
    if low_share > high_share:
        raise NotScorable("The lower share must not exceed the upper share.")
    low = heart_rate_at(resting_bpm, peak_bpm, low_share)
    high = heart_rate_at(resting_bpm, peak_bpm, high_share)
    if limit is None or high <= limit.bpm:
        return HeartRateRange(low, high)
    if low > limit.bpm:
        raise NotScorable(
            f"The whole range from {low:.0f} lies above the upper limit of {limit.bpm:.0f} "
            f"({limit.reason}); prescribe by perceived exertion or lower shares."
        )
    return HeartRateRange(low, limit.bpm, is_capped=True)


def heart_rate_words(low_bpm: int | None, high_bpm: int | None) -> str:
    """A training range in words.

    Parameters
    ----------
    low_bpm, high_bpm : ends of the range. [beats/min], not limited here; None when not prescribed

    Returns
    -------
    Both ends with "/min"; empty when either is None.
    """
    return "" if low_bpm is None or high_bpm is None else f"{low_bpm}–{high_bpm} /min"


def rpe_words(low: int, high: int) -> str:
    """A range of perceived exertion in words.

    Parameters
    ----------
    low, high : ends of the range. [on the 6–20 scale], not limited here

    Returns
    -------
    Both ends after "RPE".
    """
    return f"RPE {low}–{high}"
