"""Upper limits of the heart rate: each with what sets it; the lowest counts.

Margins: 10 below an ischaemic threshold and 10 to 15 below a detection rate, both from memory.
"""

from dataclasses import dataclass

from patients.calc.limits import HEART_RATE_BPM, OutOfRange
from programs.prescription.calc.intensity import ISCHAEMIA_MARGIN_BPM
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
