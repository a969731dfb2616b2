"""Does a condition meet the payer's rule? An answer for a clinician to confirm, never an approval.

The rule itself is data with its source (``rule_sets.py``); this reads it. The result names the limb
that decided, what is missing, and the day on which the answer would change. Whether the last day of
a span counts, where the rule leaves it open, is a project choice.
"""

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from patients.calc.days import in_words
from programs.enrolment.calc.rule_sets import MEDICARE, RuleSet


class Outcome(StrEnum):
    ELIGIBLE = "eligible"
    NOT_ELIGIBLE = "not_eligible"
    NEEDS_INFORMATION = "needs_information"


@dataclass(frozen=True)
class ConditionFacts:
    """One qualifying condition as recorded; None means nobody has answered yet.

    ``lvef_reported`` is the ejection fraction as somebody wrote it when that was no single number.
    """

    kind: str
    event_on: date | None = None
    is_angina_stable: bool | None = None
    lvef_percent: float | None = None
    lvef_reported: str = ""
    nyha_class: int | None = None
    therapy_since: date | None = None
    last_cv_stay_on: date | None = None
    has_had_cv_stay: bool | None = None
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


def add_months(day: date, months: int) -> date:
    """The same day so many months later; the month's last day where that day does not exist.

    Parameters
    ----------
    day : day to count from.
    months : how many. [months], negative counts back

    Returns
    -------
    The day.

    Raises
    ------
    ValueError : it falls outside the years 1 to 9999.
    """
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def assess(
    conditions: Sequence[ConditionFacts], start_on: date, rules: RuleSet = MEDICARE
) -> Eligibility:
    """Judge all conditions for a program that starts on a day; the most favourable answer wins.

    Among several that meet the rule, one that stays met longest decides.

    Parameters
    ----------
    conditions : what is recorded; an empty sequence needs information.
    start_on : planned first session; windows after an event count back from it.
    rules : the payer's rule set.

    Returns
    -------
    The answer with its limb, reason and what is missing. ``changes_on`` is the first day with
    another answer, None where waiting is not known to change it.
    """
    if not conditions:
        return _needs("none", "No condition is recorded.", "qualifying condition")
    return min((_assess_one(facts, start_on, rules) for facts in conditions), key=_worth)


def _worth(answer: Eligibility) -> tuple[int, date]:
    order = [Outcome.ELIGIBLE, Outcome.NEEDS_INFORMATION, Outcome.NOT_ELIGIBLE]
    until = answer.changes_on or date.max
    if answer.outcome is Outcome.ELIGIBLE:  # the later it ends the better
        return 0, date.fromordinal(date.max.toordinal() - until.toordinal() + 1)
    return order.index(answer.outcome), until  # the sooner it turns the better


def _assess_one(facts: ConditionFacts, start_on: date, rules: RuleSet) -> Eligibility:
    if facts.event_on is not None and facts.event_on > start_on:
        return _needs("dates", "The event lies after the planned start.", "a correct event date")
    if facts.kind == "unclear":
        return _needs("none", "The referral’s wording names no qualifying condition.", "diagnosis")
    if facts.kind not in rules.routes:
        return Eligibility(Outcome.NOT_ELIGIBLE, rules.uncovered_limb, rules.uncovered_words)
    if facts.kind == "stable_angina":
        return _angina(facts, rules)
    if facts.kind == "heart_failure":
        return _heart_failure(facts, start_on, rules)
    return _event(facts, start_on, rules)


def _needs(limb: str, reason: str, *missing: str) -> Eligibility:
    return Eligibility(Outcome.NEEDS_INFORMATION, limb, reason, missing)


def _event(facts: ConditionFacts, start_on: date, rules: RuleSet) -> Eligibility:
    """An event or operation, with or without a window; its anniversary is the last day inside."""
    route = rules.routes[facts.kind]
    if route.months is None:
        words = f"{route.words}; the rule sets no time limit."
        return Eligibility(Outcome.ELIGIBLE, route.limb, words)
    if facts.event_on is None:
        words = f"The event counts for {route.months} months."
        return _needs(route.limb, words, "event date")
    last_day = add_months(facts.event_on, route.months)
    if start_on > last_day:
        words = f"The {route.months} months after the event ended on {in_words(last_day)}."
        return Eligibility(Outcome.NOT_ELIGIBLE, route.limb, words)
    return Eligibility(
        Outcome.ELIGIBLE,
        route.limb,
        f"{route.words}.",
        changes_on=last_day + timedelta(days=1),
        is_boundary=start_on == last_day,
    )


def _angina(facts: ConditionFacts, rules: RuleSet) -> Eligibility:
    route = rules.routes["stable_angina"]
    if facts.is_angina_stable is None:
        words = "Angina must be current and stable."
        return _needs(route.limb, words, "whether angina is current and stable")
    if facts.is_angina_stable:
        return Eligibility(Outcome.ELIGIBLE, route.limb, f"{route.words}.")
    words = "Angina is recorded as not stable or past."
    return Eligibility(Outcome.NOT_ELIGIBLE, route.limb, words)


def _heart_failure(facts: ConditionFacts, start_on: date, rules: RuleSet) -> Eligibility:
    """All limbs must hold; one that fails decides, otherwise a missing one asks."""
    route = rules.routes["heart_failure"]
    limbs = _heart_failure_limbs(facts, start_on, rules)
    failed = [limb for limb in limbs if limb.holds is False]
    missing = [limb.asks_for for limb in limbs if limb.holds is None]
    if failed:
        dates = [limb.holds_from for limb in failed]
        known = [day for day in dates if day is not None]
        return Eligibility(
            Outcome.NOT_ELIGIBLE,
            route.limb,
            " ".join(limb.otherwise for limb in failed),
            tuple(missing),
            changes_on=max(known) if len(known) == len(dates) else None,
        )
    if missing:
        return _needs(route.limb, "Heart failure needs every limb answered.", *missing)
    until = [limb.holds_until for limb in limbs if limb.holds_until is not None]
    return Eligibility(
        Outcome.ELIGIBLE,
        route.limb,
        f"{route.words}; every limb of the rule holds.",
        changes_on=min(until) + timedelta(days=1) if until else None,
    )


@dataclass(frozen=True)
class _Limb:
    asks_for: str
    holds: bool | None
    otherwise: str
    holds_from: date | None = None  # the first start that would meet it, where waiting helps
    holds_until: date | None = None  # the last start that meets it, where waiting harms


def _heart_failure_limbs(facts: ConditionFacts, start_on: date, rules: RuleSet) -> list[_Limb]:
    terms, covered_from = rules.heart_failure, rules.heart_failure_from
    limbs = [
        _Limb(
            _lvef_asked(facts),
            None if facts.lvef_percent is None else facts.lvef_percent <= terms.max_lvef_percent,
            f"LVEF is above {terms.max_lvef_percent:g} %.",
        ),
        _Limb(
            "NYHA class",
            None
            if facts.nyha_class is None
            else terms.nyha_low <= facts.nyha_class <= terms.nyha_high,
            "NYHA class is not II to IV.",
        ),
        _therapy(facts, start_on, terms.therapy_weeks),
        _quiet(facts, start_on, terms.stable_weeks),
        _nothing_planned(facts, start_on, terms.planned_months),
    ]
    if covered_from is not None:
        words = f"Heart failure is covered for services from {in_words(covered_from)}."
        limbs.append(_Limb("start date", start_on >= covered_from, words, covered_from))
    return limbs


def _lvef_asked(facts: ConditionFacts) -> str:
    if facts.lvef_percent is None and facts.lvef_reported:
        return f"one number for the LVEF, reported as “{facts.lvef_reported}”"
    return "LVEF"


def _therapy(facts: ConditionFacts, start_on: date, weeks: int) -> _Limb:
    """Weeks of optimal therapy: day 42 after its start completes six weeks."""
    since = facts.therapy_since
    first = None if since is None else since + timedelta(weeks=weeks)
    return _Limb(
        "start of optimal heart-failure therapy",
        None if first is None else start_on >= first,
        f"Optimal therapy has lasted less than {weeks} weeks.",
        first,
    )


def _quiet(facts: ConditionFacts, start_on: date, weeks: int) -> _Limb:
    """No stay or procedure within the last weeks, the last day of the span included."""
    asks = "last cardiovascular hospital stay or procedure, or that there was none"
    if facts.last_cv_stay_on is None:
        return _Limb(asks, True if facts.has_had_cv_stay is False else None, "")
    first = facts.last_cv_stay_on + timedelta(weeks=weeks, days=1)
    words = f"A cardiovascular stay or procedure lies within the last {weeks} weeks."
    return _Limb(asks, start_on >= first, words, first)


def _nothing_planned(facts: ConditionFacts, start_on: date, months: int) -> _Limb:
    asks = "whether a cardiovascular procedure is planned"
    words = f"A cardiovascular procedure is planned within {months} months."
    planned = facts.planned_procedure_on
    if planned is not None and planned < start_on:
        asks = f"whether the procedure planned for {in_words(planned)} was done"
        return _Limb(asks, None, words)
    if planned is None:
        answer = facts.is_procedure_planned
        return _Limb(asks, None if answer is None else not answer, words)
    return _Limb(
        asks,
        planned > add_months(start_on, months),
        words,
        holds_until=_last_start_before(planned, months),
    )


def _last_start_before(planned: date, months: int) -> date:
    """The last start from which ``planned`` still lies more than so many months ahead."""
    day = add_months(planned, -months)  # never too early: months end with the month
    while add_months(day, months) >= planned:
        day -= timedelta(days=1)
    return day
