"""What may be said about a change, once for every page and for the patient.

What is concluded from what, and the words, are a project choice; sources of meaningful changes and
of measurement errors stand with each measure.
"""

from dataclasses import dataclass

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


@dataclass(frozen=True)
class Verdict:
    """The conclusion from a change, in two wordings."""

    words: str  # to staff
    plain: str  # to the patient

    def __str__(self) -> str:
        return self.words


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
    neither better nor worse, unless it reaches what is meaningful and the error was found in other
    people: then both are said.

    Parameters
    ----------
    change : the change. [unit of the measure]

    Returns
    -------
    The words for staff and for the patient.

    Raises
    ------
    KeyError : a word that is none of a change.
    """
    if change.caution:
        plain = "The two were not measured the same way, so nothing is concluded from them."
        return Verdict(f"not compared: {change.caution}", plain)
    if change.word == "same":
        return Verdict("same", "That is the same.")
    if change.exceeds_error is False and not (change.is_meaningful and change.error_population):
        return Verdict("within measurement error", "A difference of this size can be chance.")
    if change.is_meaningful is None or change.word in UNDIRECTED:
        return Verdict(change.word, DIRECTIONS[change.word])
    words = f"{change.word}, {'meaningful' if change.is_meaningful else 'below meaningful'}"
    words += " and substantial" if change.is_meaningful and change.is_substantial else ""
    plain = f"{MATTERED}."
    if not change.is_meaningful:
        plain = "That is better, by less than has mattered to patients in studies."
    if change.exceeds_error is False:
        words += f"; within the measurement error found in {change.error_population}"
        plain = f"{MATTERED}; how exact the test is was studied in other patients."
    if change.word == "worse":
        plain = "That is less good than before; talk about it with your team."
    return Verdict(words, plain)
