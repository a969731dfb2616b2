"""What follows from the background: things to ask for or keep in mind.

A suggestion prompts a person; it changes nothing by itself. Each carries its source, or the words
"from memory" or "common practice, no source".
"""

from collections.abc import Collection
from dataclasses import dataclass

from patients.calc.limits import ICD_MARGINS_IN_USE

RECENT_DAYS = 120  # an operation so long ago asks for no limits any more (project default)
ACCESS_TO_PRECAUTION = {
    "sternum": "sternum",
    "femoral": "femoral",
    "radial": "radial",
    "pocket": "pocket",
}


@dataclass(frozen=True)
class Background:
    """What is recorded about somebody; drug classes are those still taken."""

    drug_classes: Collection[str] = ()
    has_medicines: bool = False
    has_icd: bool = False
    icd_rate_known: bool = False
    recent_access: Collection[str] = ()  # ways in of operations whose precaution is not settled
    precautions: Collection[str] = ()  # kinds in force, or lifted after the operation
    is_transplanted: bool = False
    allergies_asked: bool = False
    tobacco_asked: bool = False
    emergency_contact_known: bool = False
    mobility_asked: bool = False


@dataclass(frozen=True)
class Suggestion:
    words: str
    source: str
    is_gap: bool = False  # something is missing, rather than something to keep in mind


def suggestions(known: Background) -> list[Suggestion]:
    """What to ask for and what to keep in mind, from what is recorded.

    Parameters
    ----------
    known : the background as recorded; what is not recorded counts as not asked.

    Returns
    -------
    Suggestions with words and source, gaps in the record first; empty when nothing follows.
    """
    found = [*_gaps(known), *_reminders(known)]
    return sorted(found, key=lambda suggestion: not suggestion.is_gap)


def _gaps(known: Background) -> list[Suggestion]:
    found = []
    least, most = ICD_MARGINS_IN_USE
    if known.has_icd and not known.icd_rate_known:
        found.append(
            Suggestion(
                "Ask for the ICD’s lowest detection rate and the day it was read: the upper heart "
                f"rate stays at least {least} below it.",
                f"from memory; {least} to {most} are in use",
                True,
            )
        )
    for access in known.recent_access:
        kind = ACCESS_TO_PRECAUTION.get(access)
        if kind and kind not in known.precautions:
            found.append(Suggestion(*_limits_asked(access), True))
    asked = [
        (known.has_medicines, "Ask for the list of medicines; beta-blockers and insulin matter."),
        (known.allergies_asked, "Ask about allergies."),
        (known.emergency_contact_known, "Ask whom to call in an emergency."),
        (known.tobacco_asked, "Ask about tobacco."),
        (known.mobility_asked, "Ask about a walking aid."),
    ]
    found += [
        Suggestion(words, "common practice, no source", True) for ok, words in asked if not ok
    ]
    return found


def _limits_asked(access: str) -> tuple[str, str]:
    if access == "sternum":
        return (
            "Ask for the surgeon’s limits after a sternotomy.",
            "no agreed definition: Cahalin, LaPier, Shaw 2011, PMC3056839",
        )
    return (
        f"Ask for the limits of the {access} access site.",
        "centres differ: 5 days to two weeks for the groin, 1 to 4 days for the wrist",
    )


def _reminders(known: Background) -> list[Suggestion]:
    found = []
    if {"insulin", "secretagogue"} & set(known.drug_classes):
        found.append(
            Suggestion(
                "Measure glucose before every session.",
                "Colberg 2016, Diabetes Care 39:2065, Table 1",
            )
        )
    if "beta_blocker" in known.drug_classes:
        words = "Beta-blocker: an age-predicted peak heart rate is not valid; use exertion, or a "
        found.append(Suggestion(words + "test on the medicine.", "from memory"))
    if "nitrate" in known.drug_classes:
        words = "Nitrate: keep it within reach, and watch for low pressure after exercise."
        found.append(Suggestion(words, "common practice, no source"))
    if "anticoagulant" in known.drug_classes:
        words = "Anticoagulant: a fall or a blow to the head is reported at once."
        found.append(Suggestion(words, "common practice, no source"))
    if known.is_transplanted:
        words = "Transplanted heart: the rate lags behind effort; use exertion and long warm-ups."
        found.append(Suggestion(words, "from memory"))
    return found
