"""What may be said about a change, once for every page and for the patient.

What is concluded from what, and the words, are a project choice; sources of meaningful changes and
of measurement errors stand with each measure.
"""

from dataclasses import dataclass
from enum import StrEnum

# Where nobody has agreed how large a difference matters.
DIRECTIONS = {
    "better": "That is in the right direction.",
    "worse": "That is in the wrong direction; talk about it with your team.",
    "up": "That is higher than before.",
    "down": "That is lower than before.",
    "changed": "That has changed.",
}
UNDIRECTED = {"up", "down", "changed"}
MATTERED = "That is better, by as much as has mattered to patients in studies"
TWICE = "measuring twice can differ by as much"


class Weight(StrEnum):
    """How much a change weighs; which way it goes is its word."""

    NOT_COMPARED = "not compared"
    NONE = "none"  # the same, or within the error of measuring
    UNJUDGED = "unjudged"  # no meaningful change is agreed, or neither end is better
    SMALL = "small"  # less than what is meaningful
    IN_ERROR = "in error"  # meaningful in size, and measuring twice can differ by as much
    MEANINGFUL = "meaningful"


@dataclass(frozen=True)
class Verdict:
    """The conclusion from a change, in two wordings."""

    words: str  # to staff
    plain: str  # to the patient
    weight: Weight

    def __str__(self) -> str:
        return self.words

    @property
    def is_meaningful(self) -> bool:
        """Whether the change is as large as has mattered to patients, whatever the error."""
        return self.weight in {Weight.IN_ERROR, Weight.MEANINGFUL}


@dataclass(frozen=True)
class Change:
    """A difference from baseline and what it was judged by."""

    amount: float
    percent: float | None
    word: str  # same, better, worse; up, down or changed where neither end is better
    is_meaningful: bool | None  # None where no meaningful change is agreed
    exceeds_error: bool | None = None  # None where no error of measuring is known
    caution: str = ""  # why the two results may not be compared
    is_substantial: bool = False  # a large change, where one is agreed
    error_population: str = ""  # whose error it is, where it is not theirs of the meaningful change

    @property
    def verdict(self) -> Verdict:
        """What every page prints."""
        return verdict_of(self)


def verdict_of(change: Change) -> Verdict:
    """The one conclusion from a change.

    What was not measured alike is not compared. What lies within the error of measuring is called
    neither better nor worse, unless it reaches what is meaningful: then both are said.

    Parameters
    ----------
    change : the change. [unit of the measure]

    Returns
    -------
    The words for staff and for the patient, and what they weigh.

    Raises
    ------
    KeyError : a word that is none of a change.
    """
    if change.caution:
        plain = "The two were not measured the same way, so nothing is concluded from them."
        return Verdict(f"not compared: {change.caution}", plain, Weight.NOT_COMPARED)
    if change.word == "same":
        return Verdict("same", "That is the same.", Weight.NONE)
    if change.exceeds_error is False and not change.is_meaningful:
        plain = "A difference of this size can be chance."
        return Verdict("within measurement error", plain, Weight.NONE)
    if change.is_meaningful is None or change.word in UNDIRECTED:
        return Verdict(change.word, DIRECTIONS[change.word], Weight.UNJUDGED)
    return _of_size(change)


def _of_size(change: Change) -> Verdict:
    """A change with a direction, beside what is meaningful."""
    words, weight, plain = f"{change.word}, meaningful", Weight.MEANINGFUL, f"{MATTERED}."
    words += " and substantial" if change.is_substantial else ""
    if not change.is_meaningful:
        words, weight = f"{change.word}, below meaningful", Weight.SMALL
        plain = "That is better, by less than has mattered to patients in studies."
    elif change.exceeds_error is False:
        words = f"{change.word}, as much as has mattered to patients; {TWICE}"
        if change.error_population:
            words += f" (error found in {change.error_population})"
        weight, plain = Weight.IN_ERROR, f"{MATTERED}; {TWICE}."
    if change.word == "worse":
        plain = "That is less good than before; talk about it with your team."
    return Verdict(words, plain, weight)
