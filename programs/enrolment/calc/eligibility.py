"""Does a condition meet the coverage rule? An answer for a clinician to confirm, never an approval.

The rule set here is the US Medicare one: 42 CFR 410.49(b)(1) and, for heart failure, national
coverage determination 20.10.1 (services from 18 February 2014). Other payers differ; the result
names the rule set and the limb that decided.
"""

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

RULE_SET = "US Medicare Part B, 42 CFR 410.49 and NCD 20.10.1"
HF_MAX_LVEF_PERCENT = 35  # "35 % or less": exactly 35 meets, 35.5 does not
HF_THERAPY_DAYS = 6 * 7  # symptoms despite optimal therapy for at least six weeks
HF_STABLE_DAYS = 6 * 7  # no major cardiovascular stay or procedure in the last six weeks
HF_PLANNED_MONTHS = 6  # and none planned within six months
MI_MONTHS = 12


class Outcome(StrEnum):
    ELIGIBLE = "eligible"
    NOT_ELIGIBLE = "not_eligible"
    NEEDS_INFORMATION = "needs_information"


@dataclass(frozen=True)
class ConditionFacts:
    """One qualifying condition as recorded; None means nobody has answered yet."""

    kind: str
    event_on: date | None = None
    is_angina_stable: bool | None = None
    lvef_percent: float | None = None
    nyha_class: int | None = None
    therapy_since: date | None = None
    last_cv_stay_on: date | None = None
    planned_procedure_on: date | None = None
    is_procedure_planned: bool | None = None


@dataclass(frozen=True)
class Eligibility:
    outcome: Outcome
    limb: str
    reason: str
    missing: tuple[str, ...] = ()
    changes_on: date | None = None  # the first day on which the answer would differ
    is_boundary: bool = False  # last day of a window whose inclusiveness the rule leaves open

    @property
    def rule_set(self) -> str:
        return RULE_SET


def add_months(day: date, months: int) -> date:
    """The same day so many months later; the month's last day where that day does not exist."""
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def assess(conditions: Sequence[ConditionFacts], start_on: date) -> Eligibility:
    """Judge all conditions for a program that starts on a day; the most favourable answer wins.

    Parameters
    ----------
    conditions : what is recorded; an empty sequence needs information.
    start_on : planned first session; the twelve months after a heart attack count back from it.
    """
    if not conditions:
        return Eligibility(
            Outcome.NEEDS_INFORMATION,
            "none",
            "No condition is recorded.",
            ("qualifying condition",),
        )
    order = [Outcome.ELIGIBLE, Outcome.NEEDS_INFORMATION, Outcome.NOT_ELIGIBLE]
    answers = [_assess_one(facts, start_on) for facts in conditions]
    return min(answers, key=lambda answer: order.index(answer.outcome))


def _assess_one(facts: ConditionFacts, start_on: date) -> Eligibility:
    if facts.event_on is not None and facts.event_on > start_on:
        return _needs("dates", "The event lies after the planned start.", "a correct event date")
    if facts.kind == "mi":
        return _heart_attack(facts, start_on)
    if facts.kind == "stable_angina":
        return _angina(facts)
    if facts.kind == "heart_failure":
        return _heart_failure(facts, start_on)
    if facts.kind in NO_TIME_LIMIT:
        limb, words = NO_TIME_LIMIT[facts.kind]
        return Eligibility(Outcome.ELIGIBLE, limb, f"{words}; the rule sets no time limit.")
    return _needs("none", "The referral's wording names no qualifying condition.", "the diagnosis")


NO_TIME_LIMIT = {
    "cabg": ("A-02", "Bypass surgery"),
    "valve": ("A-04", "Valve repair or replacement"),
    "pci": ("A-05", "Angioplasty or stent"),
    "transplant": ("A-06", "Heart or heart-lung transplant"),
}


def _needs(limb: str, reason: str, *missing: str) -> Eligibility:
    return Eligibility(Outcome.NEEDS_INFORMATION, limb, reason, missing)


def _heart_attack(facts: ConditionFacts, start_on: date) -> Eligibility:
    if facts.event_on is None:
        return _needs("A-01", "A heart attack counts for twelve months.", "event date")
    last_day = add_months(facts.event_on, MI_MONTHS)
    if start_on > last_day:
        return Eligibility(
            Outcome.NOT_ELIGIBLE, "A-01", f"The twelve months after the event ended on {last_day}."
        )
    return Eligibility(
        Outcome.ELIGIBLE,
        "A-01",
        "Heart attack within the preceding twelve months.",
        changes_on=last_day + timedelta(days=1),
        is_boundary=start_on == last_day,
    )


def _angina(facts: ConditionFacts) -> Eligibility:
    if facts.is_angina_stable is None:
        return _needs("A-03", "Angina must be current and stable.", "whether angina is stable now")
    if facts.is_angina_stable:
        return Eligibility(Outcome.ELIGIBLE, "A-03", "Current stable angina.")
    return Eligibility(Outcome.NOT_ELIGIBLE, "A-03", "Angina is recorded as not stable or past.")


def _heart_failure(facts: ConditionFacts, start_on: date) -> Eligibility:
    """All limbs must hold; one that fails decides, otherwise a missing one asks."""
    limbs = _heart_failure_limbs(facts, start_on)
    failed = [limb for limb in limbs if limb.holds is False]
    missing = [limb.asks_for for limb in limbs if limb.holds is None]
    if failed:
        dates = [limb.holds_from for limb in failed]
        known = [day for day in dates if day is not None]
        return Eligibility(
            Outcome.NOT_ELIGIBLE,
            "A-07/A-08",
            " ".join(limb.otherwise for limb in failed),
            tuple(missing),
            changes_on=max(known) if len(known) == len(dates) else None,
        )
    if missing:
        return _needs("A-07/A-08", "Heart failure needs every limb answered.", *missing)
    return Eligibility(
        Outcome.ELIGIBLE, "A-07", "Stable chronic heart failure; every limb of the rule holds."
    )


@dataclass(frozen=True)
class _Limb:
    asks_for: str
    holds: bool | None
    otherwise: str
    holds_from: date | None = None  # the first start that would meet it, where waiting helps


def _heart_failure_limbs(facts: ConditionFacts, start_on: date) -> list[_Limb]:
    therapy_from = _after(facts.therapy_since, HF_THERAPY_DAYS)
    stable_from = _after(facts.last_cv_stay_on, HF_STABLE_DAYS + 1)
    return [
        _Limb(
            "LVEF",
            None if facts.lvef_percent is None else facts.lvef_percent <= HF_MAX_LVEF_PERCENT,
            f"LVEF is above {HF_MAX_LVEF_PERCENT} %.",
        ),
        _Limb(
            "NYHA class",
            None if facts.nyha_class is None else 2 <= facts.nyha_class <= 4,
            "NYHA class is not II to IV.",
        ),
        _Limb(
            "start of optimal heart-failure therapy",
            None if therapy_from is None else start_on >= therapy_from,
            "Optimal therapy has lasted less than six weeks.",
            therapy_from,
        ),
        _Limb(
            "last cardiovascular hospital stay or procedure",
            None if stable_from is None else start_on >= stable_from,
            "A cardiovascular stay or procedure lies within the last six weeks.",
            stable_from,
        ),
        _Limb(
            "whether a cardiovascular procedure is planned",
            _no_procedure_soon(facts, start_on),
            "A cardiovascular procedure is planned within six months.",
        ),
    ]


def _after(day: date | None, days: int) -> date | None:
    return None if day is None else day + timedelta(days=days)


def _no_procedure_soon(facts: ConditionFacts, start_on: date) -> bool | None:
    if facts.planned_procedure_on is not None:
        return facts.planned_procedure_on > add_months(start_on, HF_PLANNED_MONTHS)
    if facts.is_procedure_planned is None:
        return None
    return not facts.is_procedure_planned
