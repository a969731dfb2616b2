"""One person's outcomes on one page of grey paper."""

from typing import Any

from patients.models import Patient
from reports.calc.summary import OutcomeLine
from reports.drawing import ON_PAPER, change_svg, scale_svg, told, values_svg, weeks_svg
from reports.outcomes import Outcomes
from reports.sheets.words import head_of

_DRAWN = 'xmlns="http://www.w3.org/2000/svg" font-family="Libertinus Serif"'
ROW = f'{_DRAWN} width="160" height="20"'
HEAD = f'{_DRAWN} width="160" height="38"'
SMALL = f'{_DRAWN} width="100" height="24"'
WIDE = f'{_DRAWN} width="720" height="96"'
KEY = (
    "Arrow: baseline to exit, ending in a circle at six weeks while there is no exit. Filled: as "
    "much as has mattered to patients; hollow: less. Grey band: measurement error; no band: none "
    "on record. Dashed: one meaningful change. A result measured another way has no mark. A "
    "missing stage stays empty; nothing is carried forward."
)


def data_of(patient: Patient, found: Outcomes) -> dict[str, Any]:
    """What the sheet is filled with."""
    return head_of(patient) | {
        "title": f"Outcomes of {patient}",
        "name": f"Outcomes: {patient}",
        "headline": [{"words": p.words, "strong": p.is_strong} for p in found.headline],
        "heads": [{"name": head.name, "day": head.day} for head in found.heads],
        "scale": scale_svg(found.axis, ON_PAPER, HEAD),
        "on_scale": _groups(found, found.on_scale),
        "off_scale": _groups(found, found.off_scale),
        "key": KEY,
        "not_recorded": ", ".join(found.not_recorded),
        "sessions": found.weeks_words,
        "weeks": weeks_svg(found.weeks, found.weeks_words, ON_PAPER, WIDE),
        "for_whom": f"For {patient.given_name or patient.family_name}",
        "sentences": found.sentences,
        "sizes": _sizes(len(found.lines)),
        "sources": [words for line in found.lines if (words := source_of(line))],
    }


def _sizes(n: int) -> list[float]:
    """Sizes of letters to try, in points, the largest that fits on one page is taken.

    A few more than thirty measures never do; then they are read on two.
    """
    if n <= 18:
        return [8.6, 8.2, 7.8, 7.4]
    return [7.4, 7.0, 6.6, 6.2] if n <= 28 else [7.4]


def _groups(found: Outcomes, groups: list[tuple[str, list[OutcomeLine]]]) -> list[dict[str, Any]]:
    return [
        {"name": name, "lines": [_line(line, found) for line in lines]} for name, lines in groups
    ]


def _line(line: OutcomeLine, found: Outcomes) -> dict[str, Any]:
    last = line.row.last_known
    notes = list(line.notes)
    if last is not None and not found.enrolment.is_open:
        value = f"{line.row.last_known_value} {line.measure.unit}".strip()
        notes.append(f"last known: {value}, {last.name.lower()}; not an exit value")
    return {
        "name": line.measure.name,
        "unit": line.measure.unit,
        "drawn": change_svg(line, found.axis, ON_PAPER, ROW),
        "told": told(line),
        "goals": [f"{goal.marks}  {goal.words}" for goal in line.goals],
        "stages": [
            {"value": s.value, "why": s.why, "missing": s.is_missing, "compares": s.compares}
            for s in line.stages
        ],
        "change": line.change,
        "predicted": line.predicted or "·",
        "values": values_svg(line, ON_PAPER, SMALL),
        "words": f"▲ {line.words}" if line.is_alarm else line.words,
        "strong": bool(line.verdict and line.verdict.is_meaningful),
        "notes": notes,
    }


def source_of(line: OutcomeLine) -> str:
    """Where the meaningful change, the error and the targets of a line come from; else ""."""
    measure, said = line.measure, []
    change, error = measure.meaningful_change, measure.detectable_change
    if change is not None:
        said.append(
            f"meaningful from {change.amount:g} {measure.unit} ({change.population}): "
            f"{change.source}"
        )
    if error is not None:
        said.append(f"error {error.amount:g} {measure.unit} ({error.population}): {error.source}")
    said += [f"target: {judged.target.source}" for judged in line.row.targets]
    return f"{measure.name}: {'; '.join(dict.fromkeys(said))}." if said else ""
