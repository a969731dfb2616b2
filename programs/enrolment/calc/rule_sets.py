"""Rule sets of payers: which conditions they cover, for how long, on which terms.

Two sets ship. A site may copy one and change its numbers inside the bounds below; which set is
read for a person follows from the payer. Local contracts and local law come first.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from patients.calc.limits import Limit

# How far a site may move a number of its own copy. The spans are this project's choice; no
# standard prescribes them.
WINDOW_MONTHS = Limit("Window after the event", "months", 1, 60)
MAX_LVEF_PERCENT = Limit("Highest LVEF", "%", 30, 50)
THERAPY_WEEKS = Limit("Weeks on optimal therapy", "weeks", 0, 26)
STABLE_WEEKS = Limit("Quiet weeks before the start", "weeks", 0, 26)
PLANNED_MONTHS = Limit("Months without a planned procedure", "months", 0, 12)


@dataclass(frozen=True)
class Route:
    """One condition a rule set covers.

    ``limb`` is the paragraph that decides; ``months`` is how long the event counts, None when the
    rule sets no time limit.
    """

    limb: str
    words: str
    months: int | None = None


@dataclass(frozen=True)
class HeartFailureTerms:
    """What "stable chronic heart failure" means; every term must hold."""

    max_lvef_percent: float = 35  # "35 % or less": exactly 35 meets, 35.5 does not
    nyha_low: int = 2
    nyha_high: int = 4
    therapy_weeks: int = 6  # symptoms despite optimal therapy for at least so long
    stable_weeks: int = 6  # no major cardiovascular stay or procedure in the last so many weeks
    planned_months: int = 6  # and none planned within so many months


@dataclass(frozen=True)
class RuleSet:
    """A payer's rule as data. A kind of condition missing from ``routes`` is not covered."""

    key: str
    name: str
    source: str
    routes: Mapping[str, Route]
    heart_failure: HeartFailureTerms = field(default_factory=HeartFailureTerms)
    heart_failure_from: date | None = None  # services before this day are not covered
    uncovered_limb: str = "coverage"
    uncovered_words: str = "This rule set does not cover the condition."


# 42 CFR 410.49(b)(1) as quoted by the decision memo to NCD 20.10.1, by local coverage texts and
# by secondary guides; the paragraphs (i) to (vii) behind are from memory.
MEDICARE = RuleSet(
    key="medicare",
    name="US Medicare Part B",
    source="42 CFR 410.49 and NCD 20.10.1",
    routes={
        "mi": Route("A-01", "Heart attack within the preceding twelve months", months=12),
        "cabg": Route("A-02", "Bypass surgery"),
        "stable_angina": Route("A-03", "Current stable angina"),
        "valve": Route("A-04", "Valve repair or replacement"),
        "pci": Route("A-05", "Angioplasty or stent"),
        "transplant": Route("A-06", "Heart or heart-lung transplant"),
        "heart_failure": Route("A-07", "Stable chronic heart failure"),
    },
    heart_failure_from=date(2014, 2, 18),  # NCD 20.10.1, effective date
    uncovered_limb="A-10",
    uncovered_words=(
        "Other heart conditions are covered only where a national coverage determination says so."
    ),
)

# One commercial insurer's published policy: twelve months for every condition, assist devices
# covered. Heart failure is read on the Medicare terms (common practice, no source).
GENERAL = RuleSet(
    key="general",
    name="General, twelve months",
    source="a commercial insurer's published policy (twelve months for every condition)",
    routes={
        "mi": Route("G-1", "Heart attack within twelve months", months=12),
        "cabg": Route("G-2", "Bypass surgery within twelve months", months=12),
        "stable_angina": Route("G-3", "Current stable angina"),
        "valve": Route("G-4", "Valve repair or replacement within twelve months", months=12),
        "pci": Route("G-5", "Angioplasty or stent within twelve months", months=12),
        "transplant": Route("G-6", "Transplant within twelve months", months=12),
        "heart_failure": Route("G-7", "Stable chronic heart failure"),
        "vad": Route("G-8", "Ventricular assist device within twelve months", months=12),
    },
    uncovered_limb="G-9",
)

SHIPPED: dict[str, RuleSet] = {rules.key: rules for rules in (MEDICARE, GENERAL)}
