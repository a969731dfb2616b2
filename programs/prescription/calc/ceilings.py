"""Upper limits of the heart rate: each with what sets it; the lowest counts.

Margins: 10 below an ischaemic threshold and 10 to 15 below a detection rate, both from memory.
"""

from dataclasses import dataclass

from patients.calc.limits import HEART_RATE_BPM, OutOfRange
from programs.prescription.calc.intensity import ISCHAEMIA_MARGIN_BPM, RESTING_VO2
from programs.prescription.calc.person import SOURCES, Known, Line

ICD_MARGINS_BPM = (10, 15)  # below the lowest detection rate, from memory


@dataclass(frozen=True)
class Ceiling:
    """An upper limit of the heart rate, what sets it, and its source."""

    bpm: float
    reason: str
    source: str


def ceilings(known: Known) -> list[Ceiling]:
    """Every upper limit that is known, the lowest first.

    Parameters
    ----------
    known : what was tested, what is present, and what the site allows. Rates [beats/min], 20 to 250

    Returns
    -------
    Limits [beats/min], the lowest first; empty when nothing recorded sets one, which is not "no
    limit".

    Raises
    ------
    OutOfRange : a rate is impossible, or the margin below a detection rate is not 10 to 15.

    References
    ----------
    As ``ISCHAEMIA_MARGIN_BPM`` and ``ICD_MARGINS_BPM``; that a tested peak is never passed without
    a reason is common practice, no source.
    """
    present, site, test = known.present, known.site, known.test
    found: list[Ceiling] = []
    if present.ischaemia_bpm is not None:
        rate = HEART_RATE_BPM.check(present.ischaemia_bpm) - ISCHAEMIA_MARGIN_BPM
        reason = f"{ISCHAEMIA_MARGIN_BPM} below the ischaemic threshold"
        found.append(Ceiling(rate, reason, SOURCES["ischaemia"]))
    if present.detection_bpm is not None:
        margin, (least, most) = site.icd_margin_bpm, ICD_MARGINS_BPM
        if not least <= margin <= most:
            raise OutOfRange("Margin below the detection rate", margin, least, most, "/min")
        rate = HEART_RATE_BPM.check(present.detection_bpm) - margin
        found.append(Ceiling(rate, f"{margin} below the ICD's detection rate", SOURCES["icd"]))
    if site.highest_bpm is not None:
        rate = HEART_RATE_BPM.check(site.highest_bpm)
        found.append(Ceiling(rate, "the site's own limit", SOURCES["site"]))
    if test is not None and test.peak_bpm is not None and not test.doubt:
        rate = HEART_RATE_BPM.check(test.peak_bpm)
        found.append(Ceiling(rate, "the tested peak", SOURCES["tested peak"]))
    return sorted(found, key=lambda one: one.bpm)


@dataclass(frozen=True)
class Asked:
    """The numbers of a dose that a limit may bear on."""

    rpe_high: int
    high_bpm: int | None = None
    upper_limit_bpm: int | None = None
    mets: float | None = None
    high_share: float | None = None
    peak_bpm: int | None = None  # the tested one the dose itself is written on


def passed(known: Known, asked: Asked) -> tuple[str, ...]:
    """What of a dose passes a limit that is known, so that it needs a reason.

    Parameters
    ----------
    known : what was tested, what is present, what the site allows.
    asked : the dose. Rates [beats/min], work [METs], share [1]. The peak it is written on is a
        limit where no test on record sets one.

    Returns
    -------
    One sentence for each limit passed; a number equal to its limit passes nothing. A dose without
    an upper limit passes every limit but a tested peak, which its range stays under by itself.

    Raises
    ------
    OutOfRange : as ``ceilings``.

    References
    ----------
    As ``ceilings``.
    """
    found = []
    limits = ceilings(known)
    if asked.peak_bpm is not None and not any(map(_is_peak, limits)):
        own = Ceiling(asked.peak_bpm, "the tested peak of this dose", SOURCES["tested peak"])
        limits.append(own)
    highest = max(
        (bpm for bpm in (asked.high_bpm, asked.upper_limit_bpm) if bpm is not None), default=0
    )
    for limit in limits:
        is_peak, bpm = _is_peak(limit), int(limit.bpm)
        if highest > limit.bpm:
            found.append(f"{highest} /min lies above {bpm} /min, {limit.reason}")
        elif asked.upper_limit_bpm is None and not is_peak:
            found.append(f"no upper limit, and {bpm} /min is {limit.reason}")
    site, test = known.site, known.test
    if asked.rpe_high > site.highest_rpe:
        found.append(f"RPE {asked.rpe_high} lies above {site.highest_rpe}, the site's own limit")
    if asked.high_share is not None and round(asked.high_share - site.highest_share, 6) > 0:
        share, most = 100 * asked.high_share, 100 * site.highest_share
        found.append(f"{share:.0f} % of the reserve lies above {most:.0f} %, the site's own limit")
    if asked.mets is not None:
        found += _work_passed(asked.mets, site.highest_mets, test.peak_vo2 if test else None)
    return tuple(found)


def _is_peak(limit: Ceiling) -> bool:
    return limit.source == SOURCES["tested peak"]


def _work_passed(mets: float, most: float | None, peak_vo2: float | None) -> list[str]:
    found = []
    if most is not None and mets > most:
        found.append(f"{mets:g} METs lies above {most:g} METs, the site's own limit")
    if peak_vo2 is not None and mets > peak_vo2 / RESTING_VO2:
        found.append(f"{mets:g} METs lies above the tested peak, {peak_vo2 / RESTING_VO2:.1f} METs")
    return found


def unknown_limits(known: Known) -> list[Line]:
    """What would set an upper limit and is not on record.

    Parameters
    ----------
    known : as in ``ceilings``.

    Returns
    -------
    One line for each; empty when nothing is lacking.

    References
    ----------
    As ``ceilings``.
    """
    if known.present.icd and known.present.detection_bpm is None:
        words = (
            "ICD of unknown detection rate: no upper limit can be set from it, so no heart-rate "
            "range is drafted. Ask for the device report."
        )
        return [Line(words, SOURCES["icd"])]
    return []
