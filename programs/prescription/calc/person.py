"""What a first prescription is drafted from: what was tested, and what is present in the person.

A fact that nobody recorded is None or False with its place named by the page; nothing here takes
what is missing for normal.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True)
class Test:
    """The newest exercise test with a peak heart rate or a peak uptake."""

    on: date
    resting_bpm: int | None = None
    peak_bpm: int | None = None
    peak_vo2: float | None = None  # [mL/kg/min], measured or estimated
    doubt: str = ""  # why it needs a reason before a dose is built on it; "" when it does not
    vo2_on: date | None = None  # where it is of another test


@dataclass(frozen=True)
class Walk:
    """What the newest six-minute walk offers as work to begin with."""

    on: date
    start_mets: float
    mean_mets: float


@dataclass(frozen=True)
class Present:
    """What of the person changes how hard is told. False means: nothing on record tells it."""

    beta_blocker: bool = False
    atrial_fibrillation: bool = False
    transplant: bool = False
    heart_failure: bool = False
    icd: bool = False
    detection_bpm: int | None = None
    ischaemia_bpm: float | None = None


@dataclass(frozen=True)
class SiteLimits:
    """What a site allows at most, and how far below a detection rate it stays."""

    highest_bpm: int | None = None
    highest_rpe: int = 16  # 12 to 16 of 20 at most: ACSM, from memory
    highest_share: float = 0.80  # of the reserve: ACSM, from memory
    highest_mets: float | None = None
    icd_margin_bpm: int = 10  # 10 to 15: from memory
    most_minutes: int = 45  # 20 to 45 minutes: RACGP HANDI


@dataclass(frozen=True)
class Known:
    """All of it, on the day of the prescription."""

    on: date
    resting_bpm: int | None = None
    test: Test | None = None
    walk: Walk | None = None
    present: Present = field(default_factory=Present)
    site: SiteLimits = field(default_factory=SiteLimits)


@dataclass(frozen=True)
class Line:
    """One step of the reasoning, and the rule it follows."""

    words: str
    source: str
    is_of_work: bool = False  # told by the newest results as well


# The rules a draft follows, by short key, each with its source as pages show it.
SOURCES: Mapping[str, str] = {
    "frequency": "3 days a week or more: RACGP HANDI",
    "reserve": "40 to 80 % of the reserve with a test: ACSM, from memory; 40 to under 60 % to "
    "start: PMC3061490, Table 3",
    "untested": "RPE 12–13 first: RACGP HANDI; rest +20 to +30: from memory",
    "current medicines": "the peak comes from a test on current medicines: from memory",
    "time": "20 to 45 minutes, warm-up and cool-down 5 to 10 each: RACGP HANDI",
    "beta-blocker": "an age-predicted rate is invalid on a beta-blocker: from memory",
    "ischaemia": "10 below the onset of ischaemia: from memory",
    "icd": "10 to 15 below the lowest detection rate: from memory",
    "transplant": "a denervated heart lags; RPE 11–14, long warm-up and cool-down: from memory",
    "heart failure": "start at 40 to 50 %, RPE 11–14: from memory",
    "af": "in atrial fibrillation by RPE: from memory",
    "volume": "1,000 kcal a week or more: Schairer, J Cardiopulm Rehabil",
    "talk": "comfortable speech lies below the first threshold: Sørensen 2020, "
    "doi:10.1097/HCR.0000000000000506",
    "walk": "80 % of the walking speed: Zainuldin 2015, in COPD, from memory",
    "tested peak": "never above a tested peak without a reason: common practice, no source",
    "site": "the site's own limit",
}
