"""How hard to begin: the way that fits what is known and what is present, with its reasoning.

Nothing here decides. It fills a form that a clinician reads and changes; the order of the ways is
a project choice, each limit names its source in ``person.SOURCES``.
"""

from dataclasses import dataclass, replace

from patients.calc.days import in_words
from patients.calc.limits import HEART_RATE_BPM, VO2_ML_KG_MIN
from programs.prescription.calc.ceilings import Ceiling, ceilings, unknown_limits
from programs.prescription.calc.intensity import (
    RESTING_VO2,
    UNTESTED_ABOVE_REST_BPM,
    USUAL_RPE,
    USUAL_START,
    heart_rate_at,
    mets_between,
    whole_beats,
)
from programs.prescription.calc.person import SOURCES, Known, Line, Test

RESERVE, UPTAKE, METS, REST = "reserve", "uptake", "mets", "rest"
EXERTION, TALK = "exertion", "talk"
FAILING_START = (0.40, 0.50)  # of the reserve in heart failure, from memory
LIGHTER_RPE = (11, 14)  # heart failure and transplant, from memory
RPE_METHODS = frozenset({EXERTION, TALK, METS, UPTAKE})  # ways that prescribe no heart rate


@dataclass(frozen=True)
class Intensity:
    """How hard to begin, with the reasoning line by line."""

    method: str
    rpe: tuple[int, int] = USUAL_RPE
    shares: tuple[float, float] = USUAL_START
    low_bpm: int | None = None
    high_bpm: int | None = None
    mets: float | None = None  # work to begin with, of test or walk
    ceiling: Ceiling | None = None
    lines: tuple[Line, ...] = ()

    def says(self, words: str, source: str, *, is_of_work: bool = False) -> "Intensity":
        """The same with one more line.

        Parameters
        ----------
        words : the line.
        source : key of ``SOURCES``.
        is_of_work : whether the newest results tell the same.

        Returns
        -------
        A copy.

        References
        ----------
        project choice
        """
        return replace(self, lines=(*self.lines, Line(words, SOURCES[source], is_of_work)))


def choose(known: Known) -> Intensity:
    """How hard to begin.

    A heart that does not answer to effort (transplant, atrial fibrillation) is never led by a
    rate; a test is used only while it speaks for the person on current medicines; an ICD of
    unknown detection rate takes any rate away.

    Parameters
    ----------
    known : what was tested, what is present, what the site allows.

    Returns
    -------
    The way, its numbers [beats/min, METs, RPE of 6 to 20, shares of 1], the lowest upper limit and
    the reasoning. No end of a range lies above the limit or above the site's RPE and share.

    Raises
    ------
    OutOfRange : a rate is impossible.

    References
    ----------
    As ``person.SOURCES``.
    """
    limits = ceilings(known)
    start = replace(_effort(known), ceiling=limits[0] if limits else None)
    found = _by_rate(known, _work(known, start))
    for limit in limits:
        words = f"Upper limit {limit.bpm:.0f} /min: {limit.reason}."
        found = replace(found, lines=(*found.lines, Line(words, limit.source)))
    return replace(found, lines=(*found.lines, *unknown_limits(known)))


def _effort(known: Known) -> Intensity:
    """RPE and shares, before anything is known of rates."""
    present, site = known.present, known.site
    found = Intensity(EXERTION)
    if present.transplant:
        words = "Transplanted heart: the rate lags behind the effort, so RPE 11–14 leads."
        found = replace(found, rpe=LIGHTER_RPE).says(words, "transplant")
    elif present.heart_failure:
        found = replace(found, rpe=LIGHTER_RPE, shares=FAILING_START)
        found = found.says(
            "Heart failure: 40 to 50 % of the reserve to start, RPE 11–14.", "heart failure"
        )
    if present.atrial_fibrillation:
        found = found.says("Atrial fibrillation: no heart-rate range, RPE leads.", "af")
    if found.rpe[1] > site.highest_rpe or found.shares[1] > site.highest_share:
        high, share = (
            min(found.rpe[1], site.highest_rpe),
            min(found.shares[1], site.highest_share),
        )
        found = replace(
            found,
            rpe=(min(found.rpe[0], high), high),
            shares=(min(found.shares[0], share), share),
        )
        most = f"RPE {site.highest_rpe}, {100 * site.highest_share:.0f} %"
        words = f"The site goes no higher than {most}."
        found = found.says(words, "site")
    return found


def _usable(test: Test | None) -> Test | None:
    return None if test is None or test.doubt else test


def _work(known: Known, found: Intensity) -> Intensity:
    """Work to begin with: of a measured uptake, else of a walk."""
    test, walk = _usable(known.test), known.walk
    if known.test is not None and known.test.doubt:
        words = f"The exercise test was {known.test.doubt}: not used without a reason."
        found = found.says(words, "current medicines")
    if test is not None and test.peak_vo2 is not None and is_capacity(test.peak_vo2):
        low, high = mets_between(test.peak_vo2, found.shares)
        words = (
            f"Peak uptake {test.peak_vo2:g} mL/kg/min ({in_words(test.vo2_on or test.on)}): "
            f"{_percent(found.shares)} of its reserve is {low:.1f} to {high:.1f} METs."
        )
        found = replace(found, method=UPTAKE, mets=round(low, 1))
        found = found.says(words, "reserve", is_of_work=True)
    elif walk is not None:
        words = (
            f"Six-minute walk ({in_words(walk.on)}): 80 % of its speed costs "
            f"{walk.start_mets:.1f} METs."
        )
        found = replace(found, method=METS, mets=round(walk.start_mets, 1))
        found = found.says(words, "walk", is_of_work=True)
    most = known.site.highest_mets
    if most is not None and found.mets is not None and found.mets > most:
        found = replace(found, mets=most).says(
            f"The site starts no work above {most:g} METs.", "site"
        )
    return found


def is_capacity(vo2: float) -> bool:
    """Whether an uptake has a reserve.

    Parameters
    ----------
    vo2 : peak uptake. [mL/kg/min]

    Returns
    -------
    False at or below rest, and beyond what is possible.

    References
    ----------
    As ``intensity.vo2_at``.
    """
    return RESTING_VO2 < vo2 <= VO2_ML_KG_MIN.high


def _percent(shares: tuple[float, float]) -> str:
    return f"{100 * shares[0]:.0f} to {100 * shares[1]:.0f} %"


def _by_rate(known: Known, found: Intensity) -> Intensity:
    """A heart-rate range where one may lead, else what leads instead."""
    present, test = known.present, _usable(known.test)
    if present.transplant or present.atrial_fibrillation:
        return found if found.method != EXERTION else _beside(known, found)
    if present.icd and present.detection_bpm is None:
        return found if found.method != EXERTION else _beside(known, found)
    rest = known.resting_bpm
    if test is not None and test.resting_bpm is not None:
        rest = test.resting_bpm
    if test is not None and test.peak_bpm is not None and rest is not None and rest < test.peak_bpm:
        low, high = (heart_rate_at(rest, test.peak_bpm, share) for share in found.shares)
        beats = whole_beats(low, high)
        words = (
            f"Test of {in_words(test.on)} from {rest} to {test.peak_bpm} /min: "
            f"{_percent(found.shares)} of the reserve is {beats[0]} to {beats[1]} /min."
        )
        return _capped(replace(found, method=RESERVE).says(words, "reserve"), low, high)
    if known.resting_bpm is not None and not present.beta_blocker and found.method == EXERTION:
        low, high = (HEART_RATE_BPM.check(known.resting_bpm) + n for n in UNTESTED_ABOVE_REST_BPM)
        words = f"No test, no walk: rest {known.resting_bpm} +20 to +30 is {low} to {high} /min."
        return _capped(replace(found, method=REST).says(words, "untested"), low, high)
    return _beside(known, found)


def _beside(known: Known, found: Intensity) -> Intensity:
    """No rate leads: RPE does, and speech where there is nothing else."""
    rpe = f"RPE {found.rpe[0]}–{found.rpe[1]}"
    if known.present.beta_blocker:
        found = found.says(
            f"Beta-blocker and no test on it on record: {rpe} leads.", "beta-blocker"
        )
    present = known.present
    unled = present.beta_blocker or present.transplant or present.atrial_fibrillation or present.icd
    if found.method == EXERTION and not unled:
        found = replace(found, method=TALK)
    return found.says(f"{rpe}; still able to speak in comfort.", "talk")


def _capped(found: Intensity, low: float, high: float) -> Intensity:
    """The range in whole beats inside itself, never above the lowest limit."""
    limit = found.ceiling
    top = high if limit is None else min(high, limit.bpm)
    low_bpm, high_bpm = int(-(-low // 1)), int(top // 1)
    if limit is not None and low_bpm > high_bpm:
        words = (
            f"No range from {low_bpm} /min lies below the upper limit of {limit.bpm:.0f} /min: "
            "RPE leads, below that limit."
        )
        line = Line(words, limit.source)
        return replace(found, method=EXERTION, lines=(*found.lines, line))
    return replace(found, low_bpm=low_bpm, high_bpm=high_bpm)
