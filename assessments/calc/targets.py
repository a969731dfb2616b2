"""Targets for risk factors, and whether a result meets them.

Each is a starting point that a site may change within bounds; a person's own target is the
clinician's. LDL under 70 mg/dL, HbA1c under 7 % and abstinence are in common use (from memory; the
2021 ESC prevention guideline asks for LDL under 55). Missing is neither met nor missed.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum

from assessments.calc.glycaemia import HBA1C
from assessments.calc.lifestyle import ACTIVITY, ADHERENCE, TOBACCO_USE
from assessments.calc.lipids import LDL, LIPIDS
from assessments.calc.measure import Inputs
from assessments.calc.vitals import BLOOD_PRESSURE, WAIST
from patients.calc.limits import Limit

Derived = Mapping[str, float]
Read = Callable[[float | None, Inputs, Derived], float | None]


class Side(Enum):
    """On which side of the amount the target lies."""

    UNDER = "under"
    AT_MOST = "at most"
    AT_LEAST = "at least"

    def holds(self, value: float, amount: float) -> bool:
        """Whether a value lies on this side of the amount.

        Parameters
        ----------
        value, amount : result and target. [same unit]

        Returns
        -------
        True when it does; an equal value holds except for UNDER.
        """
        if self is Side.UNDER:
            return value < amount
        return value <= amount if self is Side.AT_MOST else value >= amount


def the_value(value: float | None, inputs: Inputs, derived: Derived) -> float | None:
    """The measure's own value.

    Parameters
    ----------
    value : value of the result. [unit of the measure], None when not able
    inputs, derived : not used.

    Returns
    -------
    The value unchanged. [unit of the measure]
    """
    return value


def diastolic(value: float | None, inputs: Inputs, derived: Derived) -> float | None:
    """The second number of a blood pressure.

    Parameters
    ----------
    value, derived : not used.
    inputs : ``diastolic_mmhg`` [mmHg].

    Returns
    -------
    Diastolic pressure [mmHg], None when not on record.
    """
    found = inputs.get("diastolic_mmhg")
    return None if found is None else float(found)


def ldl(value: float | None, inputs: Inputs, derived: Derived) -> float | None:
    """LDL, measured before computed.

    Parameters
    ----------
    value, inputs : not used.
    derived : derived values by key. [mg/dL]

    Returns
    -------
    LDL [mg/dL], None where neither is known.
    """
    return derived.get(LDL)


@dataclass(frozen=True)
class Target:
    key: str
    name: str
    unit: str
    measure: str  # whose result is compared
    read: Read
    side: Side
    amount: float
    bounds: Limit  # a site's own amount lies inside
    source: str
    sex: str = ""  # of whom it holds; empty for everybody
    said: str = ""  # where a number would say less

    def words(self, amount: float) -> str:
        """The target in words, such as "systolic under 130 mmHg".

        Parameters
        ----------
        amount : amount in force. [unit of the target]

        Returns
        -------
        The words; ``said`` where the target has a wording of its own.
        """
        return self.said or f"{self.name} {self.side.value} {amount:g} {self.unit}".strip()


@dataclass(frozen=True)
class Judgement:
    """One result beside its target. ``is_met`` is None when there is nothing to compare."""

    target: Target
    amount: float
    is_met: bool | None
    beside: float | None = None  # what was compared, where it is not the result itself

    @property
    def words(self) -> str:
        """The target and whether it is met; empty when there is nothing to compare."""
        if self.is_met is None:
            return ""
        met = "◆ met" if self.is_met else "◇ not met"
        here = "" if self.beside is None else f", here {self.beside:.0f}"
        return f"{met}: {self.target.words(self.amount)}{here}"


def _bounds(name: str, unit: str, low: float, high: float) -> Limit:
    return Limit(f"Target for {name}", unit, low, high)


ACC_AHA = "ACC/AHA 2017, kept 2025: goal in cardiac rehabilitation below 130/80"
WHO_WAIST = "WHO 2008: increased risk above it"
TARGETS = (
    Target(
        "systolic", "systolic", "mmHg", BLOOD_PRESSURE.key, the_value, Side.UNDER, 130,
        _bounds("systolic", "mmHg", 110, 150), ACC_AHA,
    ),
    Target(
        "diastolic", "diastolic", "mmHg", BLOOD_PRESSURE.key, diastolic, Side.UNDER, 80,
        _bounds("diastolic", "mmHg", 65, 95), ACC_AHA,
    ),
    Target(
        "ldl", "LDL", "mg/dL", LIPIDS.key, ldl, Side.UNDER, 70,
        _bounds("LDL", "mg/dL", 40, 116), "in common use, from memory; 2021 ESC: 55",
    ),
    Target(
        "hba1c", "HbA1c", "%", HBA1C.key, the_value, Side.UNDER, 7,
        _bounds("HbA1c", "%", 6, 9), "in common use, set for each person, from memory",
    ),
    Target(
        "waist_men", "waist", "cm", WAIST.key, the_value, Side.AT_MOST, 94,
        _bounds("waist of men", "cm", 80, 110), WHO_WAIST, "male",
    ),
    Target(
        "waist_women", "waist", "cm", WAIST.key, the_value, Side.AT_MOST, 80,
        _bounds("waist of women", "cm", 70, 100), WHO_WAIST, "female",
    ),
    Target(
        "activity", "activity", "min/week", ACTIVITY.key, the_value, Side.AT_LEAST, 150,
        _bounds("activity", "min/week", 60, 420), "WHO 2020; US Physical Activity Guidelines 2018",
    ),
    Target(
        "tobacco", "tobacco", "", TOBACCO_USE.key, the_value, Side.AT_MOST, 1,
        _bounds("tobacco", "", 1, 1), "complete abstinence, from memory", said="no tobacco",
    ),
    Target(
        "adherence", "medicine taken", "%", ADHERENCE.key, the_value, Side.AT_LEAST, 80,
        _bounds("medicine taken", "%", 50, 100), "80 % of days covered, from memory",
    ),
)  # fmt: skip
BY_KEY = {target.key: target for target in TARGETS}


def judge(
    measure: str,
    value: float | None,
    inputs: Inputs,
    derived: Derived,
    sex: str,
    own: Mapping[str, float],
) -> list[Judgement]:
    """A result beside every target of its measure.

    Parameters
    ----------
    measure : key of the measure.
    value : value of the result. [unit of the measure], None when not able
    inputs : what was typed, by key.
    derived : derived values of the result by key.
    sex : "male", "female" or "" when not recorded; targets of a sex need it.
    own : the site's own amounts by key of the target, not checked against its bounds.

    Returns
    -------
    One judgement a target, empty where the measure has none; met is None where nothing compares.
    """
    found = []
    for target in TARGETS:
        if target.measure != measure or target.sex not in {"", sex}:
            continue
        amount = own.get(target.key, target.amount)
        read = target.read(value, inputs, derived)
        is_met = None if read is None else target.side.holds(read, amount)
        beside = read if target.read is ldl else None
        found.append(Judgement(target, amount, is_met, beside))
    return found
