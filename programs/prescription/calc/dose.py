"""A dose as pure numbers, and the limits somebody signed for it.

A dose inside the signed limits is in force at once; whatever lies beyond is named, one sentence a
number. Nothing here knows who may sign.
"""

from dataclasses import dataclass

from assessments.calc.metabolic import energy_kcal, met_minutes
from patients.calc.limits import Limit
from programs.prescription.calc.strength import BY_KEY, ORDER

WARM_UP_MINUTES = Limit("Warm-up and cool-down", "min", 0, 30, 5, 15)  # 5 to 10: RACGP HANDI
DAYS_A_WEEK = Limit("Days a week", "a week", 0, 7)
HOLD_S = Limit("Hold of a stretch", "s", 5, 120, 10, 30)  # 10 to 30 s: from memory
USUAL_HOLD_S, USUAL_STRETCH_DAYS = 20, 3
BALANCE_FROM_AGE = 65  # three days a week from this age: WHO 2020, from memory
USUAL_BALANCE_DAYS = 3
LONG_WARM_UP, USUAL_WARM_UP = 10, 5  # [min]; 10 after a transplant (project choice of "long")
HOME_DAYS = 2  # so that most days of the week have exercise; common practice, no source
WEEKLY_KCAL = 1000  # Schairer, J Cardiopulm Rehabil


@dataclass(frozen=True)
class Dose:
    """The numbers of a prescription that a signature bounds."""

    rpe_high: int
    minutes: int  # [min] a session, without warm-up and cool-down
    per_week: int
    high_bpm: int | None = None
    upper_limit_bpm: int | None = None
    mets: float | None = None
    strength: str = ""  # key of a stage; "" when none is prescribed
    home_minutes: int = 0  # [min] a day at home
    home_days: int = 0


@dataclass(frozen=True)
class Bounds:
    """How far a dose may be raised without another signature.

    None is no room: the signed dose's own number is the limit.
    """

    rpe: int | None = None
    bpm: int | None = None
    mets: float | None = None
    minutes: int | None = None
    per_week: int | None = None
    strength: str = ""


@dataclass(frozen=True)
class Signed:
    """A dose and its bounds, as a physician signed them."""

    dose: Dose
    bounds: Bounds

    @property
    def rpe(self) -> int:
        """Highest RPE allowed. [of 6 to 20]"""
        return max(self.dose.rpe_high, self.bounds.rpe or 0)

    @property
    def bpm(self) -> float | None:
        """Highest end of a range allowed. [beats/min]; None when no rate was signed."""
        return _more(self.dose.high_bpm, self.bounds.bpm)

    @property
    def mets(self) -> float | None:
        """Most work allowed. [METs]; None when no work was signed."""
        return _more(self.dose.mets, self.bounds.mets)

    @property
    def minutes(self) -> int:
        """Most minutes of a session allowed. [min]"""
        return max(self.dose.minutes, self.bounds.minutes or 0)

    @property
    def per_week(self) -> int:
        """Most sessions a week allowed."""
        return max(self.dose.per_week, self.bounds.per_week or 0)

    @property
    def strength(self) -> str:
        """Heaviest stage of resistance allowed; "" when none was signed."""
        return max(self.dose.strength, self.bounds.strength, key=lambda key: ORDER[key])


def _more(one: float | None, other: float | None) -> float | None:
    known = [value for value in (one, other) if value is not None]
    return max(known, default=None)


def beyond(dose: Dose, signed: Signed | None) -> tuple[str, ...]:
    """What of a dose lies beyond what was signed.

    Parameters
    ----------
    dose : the dose asked about.
    signed : what was signed last; None when nothing was.

    Returns
    -------
    One sentence for each number that lies beyond; empty when the dose is covered. A number equal
    to its limit is covered. Work or a range where none was signed lies beyond.

    References
    ----------
    project choice; the physician signs the plan: 42 CFR 410.49.
    """
    if signed is None:
        return ("no dose is signed yet",)
    told = [
        _above("RPE", dose.rpe_high, signed.rpe, ""),
        _above("heart rate", dose.high_bpm, signed.bpm, " /min"),
        _above("work", dose.mets, signed.mets, " METs"),
        _above("time", dose.minutes, signed.minutes, " min"),
        _above("sessions", dose.per_week, signed.per_week, " a week"),
        _eased(dose.upper_limit_bpm, signed.dose.upper_limit_bpm),
    ]
    if ORDER[dose.strength] > ORDER[signed.strength]:
        most = BY_KEY[signed.strength].name if signed.strength else "none"
        told.append(f"resistance {BY_KEY[dose.strength].name}, signed: {most}")
    return tuple(words for words in told if words)


def beyond_bounds(bounds: Bounds, signed: Signed) -> tuple[str, ...]:
    """What of new limits lies beyond those signed; a limit is widened by a signature only.

    Parameters
    ----------
    bounds : the limits asked about.
    signed : what was signed last.

    Returns
    -------
    One sentence for each limit that would be wider; empty when none is.

    References
    ----------
    As ``beyond``.
    """
    told = [
        _above("limit of RPE", bounds.rpe, signed.rpe, ""),
        _above("limit of the heart rate", bounds.bpm, signed.bpm, " /min"),
        _above("limit of work", bounds.mets, signed.mets, " METs"),
        _above("limit of time", bounds.minutes, signed.minutes, " min"),
        _above("limit of sessions", bounds.per_week, signed.per_week, " a week"),
    ]
    if ORDER[bounds.strength] > ORDER[signed.strength]:
        told.append(f"limit of resistance {BY_KEY[bounds.strength].name}")
    return tuple(words for words in told if words)


def _above(name: str, asked: float | None, most: float | None, unit: str) -> str:
    if asked is None or (most is not None and asked <= most):
        return ""
    limit = "none" if most is None else f"at most {most:g}{unit}"
    return f"{name} {asked:g}{unit}, signed: {limit}"


def _eased(asked: int | None, signed: int | None) -> str:
    if signed is None or (asked is not None and asked <= signed):
        return ""
    return f"upper limit {asked or 'dropped'}, signed: {signed} /min"


@dataclass(frozen=True)
class Volume:
    """What a week of the dose comes to, class and home together."""

    met_minutes: float
    kcal: float | None  # None when the weight is not known

    @property
    def is_enough(self) -> bool | None:
        """Whether it reaches ``WEEKLY_KCAL``; None when nobody can tell."""
        return None if self.kcal is None else self.kcal >= WEEKLY_KCAL


def volume_of_week(dose: Dose, weight_kg: float | None) -> Volume | None:
    """What a week of the dose comes to.

    Parameters
    ----------
    dose : the dose; home exercise counts at the same METs.
    weight_kg : body mass. [kg], 25 to 350; None when unknown

    Returns
    -------
    Volume, gross. [MET-min, kcal]; None when no work is prescribed.

    Raises
    ------
    OutOfRange : the body mass or minutes are impossible.

    References
    ----------
    As ``energy_kcal``: 5 kcal per litre of oxygen, common practice, no source.
    """
    if dose.mets is None:
        return None
    spans = [(dose.minutes, dose.per_week), (dose.home_minutes, dose.home_days)]
    mets = dose.mets
    kcal = None
    if weight_kg is not None:
        kcal = sum(energy_kcal(mets, weight_kg, minutes) * days for minutes, days in spans)
    return Volume(sum(met_minutes(mets, minutes) * days for minutes, days in spans), kcal)
