"""What changed, in sentences for the patient: no jargon, no promise, no alarm (project choice)."""

from reports.calc.change import STAGES, ComparisonRow

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
    unit = UNITS.get(row.measure.unit, row.measure.unit)
    ends = (row.points["baseline"], row.points[stage])
    first, last = (_with_unit(row.shown(point), unit) for point in ends)
    said = f"{row.measure.plain}: {first} at the start, {last} {WHEN[stage]}."
    return f"{said} {row.changes[stage].verdict.plain}"


def _with_unit(number: str, unit: str) -> str:
    head, _, rest = unit.partition(" ")
    if number == "1" and head.endswith("s") and head != "s":
        unit = f"{head[:-1]} {rest}".strip()
    return f"{number} {unit}".strip()
