"""The 21-day clock: how long has this person been waiting, counted from what?

Target: first session within 21 days of discharge (Ritchey 2020,
doi:10.1161/CIRCOUTCOMES.119.005902; ACC/AHA 2018 measure QM-1, doi:10.1161/HCQ.0000000000000037).
"""

from dataclasses import dataclass
from datetime import date, timedelta

from patients.calc.days import short_day
from patients.calc.words import Word, word

TARGET_DAYS = 21
SOON_DAYS = 7  # so near the target it is shown as a caution (project choice)


@dataclass(frozen=True)
class StartClock:
    anchor: str  # "discharge", "event" or "referral": the best date known
    since: date
    day: int  # days since the anchor; negative before a planned discharge
    target_on: date

    @property
    def is_late(self) -> bool:
        """Past the target: day 21 itself is still in time."""
        return self.day > TARGET_DAYS

    @property
    def days_left(self) -> int:
        """Days until the target [days]; 0 on day 21, negative when late."""
        return TARGET_DAYS - self.day

    @property
    def word(self) -> Word:
        """Which day of the wait it is; before a planned discharge, that it has not begun."""
        if self.is_before_discharge:
            return word("note", "still in hospital")
        soon = "caution" if self.days_left <= SOON_DAYS else "plain"
        return word("hold" if self.is_late else soon, f"day {self.day}")

    @property
    def note(self) -> str:
        """What the clock counts from, and its target."""
        today = self.since + timedelta(days=self.day)
        if self.is_before_discharge:
            return f"discharge planned {short_day(self.since, today)}"
        return f"since {self.anchor}, target {short_day(self.target_on, today)}"

    @property
    def is_before_discharge(self) -> bool:
        """The person is still in hospital: the clock starts with the planned discharge."""
        return self.anchor == "discharge" and self.day < 0


def counted_from(
    discharged_on: date | None, event_on: date | None, referred_on: date
) -> tuple[str, date]:
    """The best date known to count the wait from, and what it is.

    Parameters
    ----------
    discharged_on : day of discharge, also a planned one; None when unknown.
    event_on : day of the event, read only without a discharge; None when unknown.
    referred_on : day of the referral, read only without both.

    Returns
    -------
    "discharge", "event" or "referral", and its day.
    """
    if discharged_on is not None:
        return "discharge", discharged_on
    return ("event", event_on) if event_on is not None else ("referral", referred_on)


def start_clock(
    today: date, *, discharged_on: date | None, event_on: date | None, referred_on: date
) -> StartClock:
    """Count from discharge, else the event, else the referral, and say which.

    Parameters
    ----------
    today : the site's day.
    discharged_on : day of discharge, also a planned one; None when unknown.
    event_on : day of the event, read only without a discharge; None when unknown.
    referred_on : day of the referral, read only without both.

    Returns
    -------
    The clock: what it counts from, since when, which day today is, and day 21.
    """
    anchor, since = counted_from(discharged_on, event_on, referred_on)
    return StartClock(anchor, since, (today - since).days, since + timedelta(days=TARGET_DAYS))
