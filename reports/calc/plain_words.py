"""What changed, in sentences for the patient: no jargon, no promise, no alarm (project choice)."""

from reports.calc.change import STAGES, Change, ComparisonRow

WHEN = {"six_weeks": "after six weeks", "exit": "at the end"}
UNITS = {
    "m": "metres",
    "s": "seconds",
    "/min": "beats a minute",
    "cm": "centimetres",
    "%": "per cent",
    "m/s": "metres a second",
    "min/week": "minutes a week",
    "stands": "times",
}

# Where nobody has agreed how large a difference matters.
DIRECTIONS = {
    "better": "That is in the right direction.",
    "worse": "That is in the wrong direction; talk about it with your team.",
    "up": "That is higher than before.",
    "down": "That is lower than before.",
}


def sentence(row: ComparisonRow) -> str:
    """One measure since baseline, in a sentence or two for the patient.

    Parameters
    ----------
    row : the comparison of one measure; its latest stage with a change is told.

    Returns
    -------
    The words; "" when there is nothing to compare or the measure tells a person nothing.
    """
    reached = [stage for stage in STAGES if stage in row.changes]
    if not row.measure.plain or not reached:
        return ""
    stage = reached[-1]
    base, later = row.points["baseline"].value, row.points[stage].value
    assert base is not None, "a change has both of its values"
    assert later is not None, "a change has both of its values"
    digits, unit = row.measure.digits, UNITS.get(row.measure.unit, row.measure.unit)
    first, last = (_with_unit(f"{value:.{digits}f}", unit) for value in (base, later))
    said = f"{row.measure.plain}: {first} at the start, {last} {WHEN[stage]}."
    return f"{said} {verdict(row.changes[stage], digits)}"


def _with_unit(number: str, unit: str) -> str:
    head, _, rest = unit.partition(" ")
    if number == "1" and head.endswith("s") and head != "s":
        unit = f"{head[:-1]} {rest}".strip()
    return f"{number} {unit}".strip()


def verdict(change: Change, digits: int) -> str:
    """What may be said about a change; what cannot be compared is not called better or worse.

    Parameters
    ----------
    change : the change. [the measure's unit]
    digits : decimals the measure is shown with; a change that rounds to 0 is none.

    Returns
    -------
    One sentence for the patient.
    """
    if change.caution:
        return "The two were not measured the same way, so nothing is concluded from them."
    if round(change.amount, digits) == 0:
        return "That is the same."
    if change.exceeds_error is False:
        return "A difference of this size can be chance."
    if change.is_meaningful is None and change.exceeds_error is None:
        return DIRECTIONS[change.word]
    if change.word == "worse":
        return "That is less good than before; talk about it with your team."
    if change.is_meaningful:
        return "That is better, by as much as has mattered to patients in studies."
    if change.is_meaningful is False:
        return "That is better, by less than has mattered to patients in studies."
    return "That is better."
