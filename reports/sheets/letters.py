"""Letters to whoever referred somebody and to primary care: at enrolment, six weeks and exit.

A letter says what is recorded, each number with its day and source, and what is missing. It draws
no conclusion beyond the one verdict every page prints; nothing is sent by itself.
"""

from dataclasses import dataclass
from typing import Any

from patients.calc.days import in_words
from patients.models import Patient
from programs.enrolment.models import Enrolment
from programs.staff.models import User
from reports.calc.change import STAGES
from reports.calc.summary import PREDICTED, OutcomeLine
from reports.outcomes import Outcomes, outcomes_of
from reports.sheets.dose import dose_of
from reports.sheets.outcome_sheet import source_of
from reports.sheets.words import head_of


@dataclass(frozen=True)
class Occasion:
    """When a letter is written, and which stages it tells of."""

    key: str
    name: str
    n_stages: int


OCCASIONS = {
    one.key: one
    for one in (
        Occasion("enrolment", "enrolment", 1),
        Occasion("six_weeks", "six weeks", 2),
        Occasion("exit", "discharge", 3),
    )
}
READERS = {"referrer": "Referrer", "primary_care": "Primary care"}
DEFERS = (
    "These are measurements, with what is on record about how large a difference matters. What "
    "they mean for this person, and what to do about it, is for the clinicians who treat them; "
    "local protocol and the physician’s order come first."
)


def data_of(course: Enrolment, occasion: Occasion, to: str, *, by: User) -> dict[str, Any]:
    """What a letter is filled with; empty text is a line to write on."""
    patient = course.patient
    stage = "exit" if occasion.key == "exit" else "six_weeks"
    found = outcomes_of(course, stage)
    title = f"Cardiac rehabilitation of {patient}: {occasion.name}"
    return head_of(patient) | {
        "title": title,
        "heading": f"Cardiac rehabilitation: {occasion.name}",
        "from": [line for line in (patient.site.name, patient.site.phone) if line],
        "on": in_words(patient.site.today()),
        "to_role": READERS[to],
        "to": _addressee(course, to),
        "facts": _facts(patient, course, found, occasion),
        "answer": _answer(found, occasion),
        "heads": [{"name": h.name, "day": h.day} for h in found.heads[: occasion.n_stages]],
        "lines": [_line(line, occasion) for line in found.lines],
        "sources": [words for line in found.lines if (words := source_of(line))],
        "defers": DEFERS,
        "by": by.get_full_name() or by.get_username(),
        "role": by.get_role_display(),
    }


def _addressee(course: Enrolment, to: str) -> str:
    """Who referred, as far as it was written; who treats in primary care is not on record."""
    referral = course.referral
    if to == "referrer":
        source = referral.get_source_display() if referral.source else ""
        return ", ".join(part for part in (referral.referrer, source) if part)
    return referral.referrer if referral.source == referral.Source.PRIMARY_CARE else ""


def _facts(
    patient: Patient, course: Enrolment, found: Outcomes, occasion: Occasion
) -> list[list[str]]:
    """Name and value; an empty value is a line to write on."""
    referral = course.referral
    facts = [
        ["Patient", f"{patient}, date of birth {in_words(patient.born_on)}"],
        ["Record number", patient.record_number],
        ["Qualifying condition", str(referral.condition)],
        ["First class", in_words(course.starts_on)],
        ["Planned", f"{course.sessions_planned} sessions in {course.weeks} weeks"],
    ]
    if occasion.key != "enrolment":
        facts.append(["Sessions", f"{_attended(found)}; {found.in_range}"])
    if occasion.key == "exit":
        facts.append(["Discharge", _discharge(course)])
    dose = dose_of(course)
    facts.append(["Exercise prescription", dose.words if dose else ""])
    return facts


def _attended(found: Outcomes) -> str:
    return ", ".join(f"{n} {words}" for n, words in found.came)


def _discharge(course: Enrolment) -> str:
    if course.closed_on is None:
        return "the course has not ended"
    return f"{course.get_outcome_display()}, {in_words(course.closed_on)}"


def _answer(found: Outcomes, occasion: Occasion) -> list[dict[str, Any]]:
    """The headline; at enrolment there is nothing to compare."""
    if occasion.key == "enrolment":
        return []
    return [{"words": part.words, "strong": part.is_strong} for part in found.headline]


def _line(line: OutcomeLine, occasion: Occasion) -> dict[str, Any]:
    stages = line.stages[: occasion.n_stages]
    base = line.row.points.get("baseline")
    at_enrolment = occasion.key == "enrolment"
    said = (base.interpretation if base else "") if at_enrolment else line.words
    share = base.derived.get(PREDICTED) if base else None
    first = "" if share is None else f"{share:.0f}"
    return {
        "name": line.measure.name,
        "unit": line.measure.unit,
        "stages": [
            {"value": s.value, "why": s.why, "missing": s.is_missing, "compares": s.compares}
            for s in stages
        ],
        "change": "" if at_enrolment else line.change,
        "predicted": (first if at_enrolment else line.predicted) or "·",
        "words": said,
        "strong": not at_enrolment and bool(line.verdict and line.verdict.is_meaningful),
        "goals": [
            f"{'◆' if goal.met[n] else '◇'} {goal.words}"
            for goal in line.goals
            if goal.met[n := min(occasion.n_stages, len(STAGES)) - 1] is not None
        ],
    }
