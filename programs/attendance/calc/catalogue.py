"""Every rule of the floor, and the limits in force at one site for one person.

Each rule names its own source; who may change a limit, and how far, is a project choice.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from patients.calc.limits import OutOfRange
from patients.calc.units import glucose_mmoll
from programs.attendance.calc.levels import Level, Phase
from programs.attendance.calc.rules import Rule, Settled
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
    """Whether a finding stays once raised: what it tells of happened, and no later value undoes it.

    Parameters
    ----------
    rule_id : id of the rule, such as "F-01".
    about : what the finding is about, as ``rules.about`` writes it.

    Returns
    -------
    True for every finding in exercise, and for a low that needed help.
    """
    return (rule_id, about.partition("@")[0]) in _LASTING


@dataclass(frozen=True)
class Setting:
    """What somebody set of a rule, and since when; None leaves the default."""

    limit: float | None
    since: date | None = None
    settled_by: Settled | None = None


def check_limit(key: str, limit: float) -> float:
    """A site's own limit, unchanged, when it may be set.

    Parameters
    ----------
    key : what the limit belongs to, as ``Rule.key``.
    limit : the limit wanted. [unit of the rule], within the rule's ``bounds``, both ends included

    Returns
    -------
    The same limit. [unit of the rule]

    Raises
    ------
    OutOfRange : the limit lies outside the bounds.
    KeyError : no such rule, or a yes-or-no rule, which has no limit to set.
    """
    bounds = BY_KEY[key].bounds
    if bounds is None:
        raise KeyError(key)
    return bounds.check(limit)


def may_be_settled(key: str) -> bool:
    """Whether a site may say who takes a hold of a rule for settled.

    Parameters
    ----------
    key : as ``Rule.key``.

    Returns
    -------
    True for a hold on something measured, seen or asked; False for others and unknown keys.
    """
    rule = BY_KEY.get(key)
    return rule is not None and rule.level is Level.HOLD and not rule.is_of_record


def in_force(
    site: Mapping[str, Setting] | None = None, person: Mapping[str, Setting] | None = None
) -> tuple[Rule, ...]:
    """The rules with the site's limits, and a person's where these are tighter.

    Parameters
    ----------
    site : settings of the site by ``Rule.key``; None for none.
    person : settings of one person by ``Rule.key``; None for none.

    Returns
    -------
    Every rule, in the order of the catalogue. A setting outside today's bounds, or one of a person
    that is no tighter, is left aside: what it would have replaced stands.
    """
    return tuple(_set(_set(rule, site, "site setting"), person, "own limit") for rule in RULES)


def _set(rule: Rule, settings: Mapping[str, Setting] | None, origin: str) -> Rule:
    found = (settings or {}).get(rule.key)
    if found is None:
        return rule
    if found.settled_by is not None:
        rule = replace(rule, site_says=found.settled_by)
    if found.limit is None or rule.bounds is None:
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
