"""A finding in a few words, for the line of a class and the strip beside a sheet.

What stands in so little room, and in which order, is a project choice; the rules' own sentences
have their sources in ``programs.attendance.calc.catalogue``.
"""

import re

from programs.attendance.calc.names import name_of

# A value with its unit, or how many of something.
_MEASURED = re.compile(r"[^.:;,]*?\d+(?:\.\d+)?(?: %| °C| mm\b| kg\b)?(?=\W|$)")
_COUNTED = re.compile(r"\s+(?:days since|since|PVCs)\b")
_NO_MEASURE = re.compile(r"\b(?:within|over|level|last)\b")  # "within 24 hours"
# A difference says first what it is from: cut short, it must not read as a value.
_APART = re.compile(
    r"(?P<what>.+?) is (?:still )?(?P<by>\d+(?:\.\d+)?) (?:beats )?(?P<way>below|above)"
    r" (?P<of>[^.:;,]+)"
)
_FROM = {
    "the pressure before exercise": "rest",
    "the rate before exercise": "rest",
    "the device’s detection rate": "ICD limit",
    "this person’s own upper limit": "own limit",
}


def in_short(rule_id: str, about: str, sentence: str) -> str:
    """What was measured in a few words, else the name of the finding.

    Parameters
    ----------
    rule_id, about : of the finding.
    sentence : its own, with the reading in it.

    Returns
    -------
    "Systolic 188"; of a difference first what it is from, "24 below rest, systolic"; without a
    measure its name.
    """
    words = re.sub(r"^Bout \d+: ", "", sentence)
    if (apart := _APART.match(words)) and apart["of"] in _FROM:
        what = f"{apart['what'][0].lower()}{apart['what'][1:]}"
        return f"{apart['by']} {apart['way']} {_FROM[apart['of']]}, {what}"
    measured = _MEASURED.match(words)
    if measured is None or _NO_MEASURE.search(measured[0]):
        return name_of(rule_id, about)
    short = measured[0]
    if _COUNTED.match(words[measured.end() :]):
        short = re.split(r"[.:;,](?!\d)", words)[0]
    return re.sub(r" (is|was|has) ", " ", short)
