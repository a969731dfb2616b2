"""Every rule of the floor, and the limits in force at one site for one person."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from patients.calc.limits import OutOfRange
from patients.calc.units import glucose_mmoll
from programs.attendance.calc.levels import Phase
from programs.attendance.calc.rules import Rule
from programs.attendance.calc.rules_after import AFTER
from programs.attendance.calc.rules_before import BEFORE
from programs.attendance.calc.rules_during import DURING
from programs.attendance.calc.rules_glucose import GLUCOSE

RULES: tuple[Rule, ...] = (*BEFORE, *GLUCOSE, *DURING, *AFTER)
BY_KEY: dict[str, Rule] = {rule.key: rule for rule in RULES}
N_RULES = len({rule.id for rule in RULES})
_LASTING = frozenset(
    rule.subject for rule in RULES if rule.phase is Phase.DURING or rule.id == "G-03"
)


def is_lasting(rule_id: str, about: str) -> bool:
    """What happened in exercise, or that a low needed help, happened: nothing clears it."""
    return (rule_id, about.partition("@")[0]) in _LASTING


@dataclass(frozen=True)
class Setting:
    """A limit somebody set, and since when."""

    limit: float
    since: date | None = None


def check_limit(key: str, limit: float) -> float:
    """A site's limit; raises OutOfRange outside the bounds, KeyError for an unknown rule.

    A yes-or-no rule has no limit to set: KeyError as well.
    """
    bounds = BY_KEY[key].bounds
    if bounds is None:
        raise KeyError(key)
    return bounds.check(limit)


def in_force(
    site: Mapping[str, Setting] | None = None, person: Mapping[str, Setting] | None = None
) -> tuple[Rule, ...]:
    """The rules with the site's limits, and a person's where these are tighter.

    A setting outside today's bounds is left aside: the default stands.
    """
    return tuple(_set(_set(rule, site, "site setting"), person, "own limit") for rule in RULES)


def _set(rule: Rule, settings: Mapping[str, Setting] | None, origin: str) -> Rule:
    found = (settings or {}).get(rule.key)
    if found is None or rule.bounds is None:
        return rule
    try:
        rule.bounds.check(found.limit)
    except OutOfRange:
        return rule
    if origin == "own limit" and not rule.is_tighter(found.limit):
        return rule
    since = f" of {found.since:%-d %b %Y}" if found.since else ""
    mmoll = None if rule.mmoll is None else round(glucose_mmoll(found.limit), 1)
    return replace(rule, limit=found.limit, mmoll=mmoll, origin=f"{origin}{since}")
