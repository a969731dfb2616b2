"""Is a class ready to open: equipment, drills, cards, people (J).

No US federal figure exists for staff per patient. Massachusetts (105 CMR 143.009, 143.013) asks
one to five with at least two staff, somebody with advanced life support at each session and
everybody with basic life support, and an emergency drill at least every quarter; UK texts name the
same ratio. Equipment after North Carolina 10A NCAC 14F .2103; the rest of it is
"common practice, no source". A site sets its own ratio; local law and protocol come first.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import ceil

MASSACHUSETTS = "105 CMR 143.009, 143.013"
NORTH_CAROLINA = "10A NCAC 14F .2103"
PRACTICE = "common practice, no source"
PATIENTS_PER_STAFF, LEAST_STAFF = 5, 2
CARD_WARNING_DAYS = 60  # common practice, no source
DRILL_DAYS = 92  # a quarter; the longest has 92 days
SUPERVISION = "42 CFR 410.49; physician assistants and nurse practitioners since 2024-01-01"
# What is looked at every day before opening.
ITEMS: tuple[tuple[str, str, str], ...] = (
    ("defibrillator", "Defibrillator tested", PRACTICE),
    ("emergency", "Emergency equipment complete and in date", PRACTICE),
    ("oxygen", "Oxygen full, masks there", PRACTICE),
    ("call", "Emergency call works", PRACTICE),
    ("ecg", "ECG monitors", NORTH_CAROLINA),
    ("cuffs", "Blood pressure cuffs", NORTH_CAROLINA),
    ("clock", "Clock", NORTH_CAROLINA),
    ("glucose", "Glucose meter and fast carbohydrate", NORTH_CAROLINA),
)
ITEM_WORDS = {key: words for key, words, _ in ITEMS}


@dataclass(frozen=True)
class Card:
    """A card or licence of one person."""

    holder: int  # id of the person
    kind: str  # "BLS", "ACLS" or another
    expires_on: date


@dataclass(frozen=True)
class Facts:
    """What is known before a class opens on a day."""

    on: date
    n_people: int
    staff: Mapping[int, str] = field(default_factory=dict)  # id -> name
    cards: Sequence[Card] = ()  # of the staff present
    supervisor: str = ""
    check: Mapping[str, bool] | None = None  # item -> in order; None: not done today
    last_drill_on: date | None = None
    patients_per_staff: int = PATIENTS_PER_STAFF
    least_staff: int = LEAST_STAFF


@dataclass(frozen=True)
class Unmet:
    """Something asked for that is not there."""

    rule_id: str
    sentence: str
    source: str


@dataclass(frozen=True)
class Readiness:
    unmet: list[Unmet] = field(default_factory=list)

    @property
    def sentences(self) -> list[str]:
        """What is missing in words, each with the id of its rule."""
        return [f"{u.sentence} ({u.rule_id})" for u in self.unmet]


def staff_needed(n_people: int, per_staff: int, least: int) -> int:
    """Staff for a number of people: one to each ``per_staff`` or part of it, never below ``least``.

    Parameters
    ----------
    n_people : people who exercise. [people], 0 or more
    per_staff : people to one of staff, at most. [people], 1 to 10 as a site may set it
    least : staff in any class. [people], 1 to 10 as a site may set it

    Returns
    -------
    Staff. [people]; ``least`` when nobody exercises
    """
    return max(least, ceil(n_people / per_staff)) if n_people else least


def card_state(expires_on: date, on: date) -> str:
    """How far a card is from its end.

    Parameters
    ----------
    expires_on : last day on which the card is valid.
    on : day asked about.

    Returns
    -------
    "expired" after the last day, "soon" on it and the sixty days before, else "valid".
    """
    if expires_on < on:
        return "expired"
    return "soon" if expires_on - on <= timedelta(days=CARD_WARNING_DAYS) else "valid"


def drill_is_due(last_on: date | None, on: date) -> bool:
    """Whether the quarterly emergency drill is due.

    Parameters
    ----------
    last_on : day of the last drill, None when none is on record.
    on : day asked about.

    Returns
    -------
    True without a drill, or when it lies more than 92 days back.
    """
    return last_on is None or (on - last_on).days > DRILL_DAYS


def readiness(facts: Facts) -> Readiness:
    """Everything asked for before a class opens that is missing.

    Parameters
    ----------
    facts : people, staff present, cards, supervisor, opening check and drill of the day.

    Returns
    -------
    What is unmet, with rule id, sentence and source; an empty list claims no more than that.
    """
    return Readiness([*_people(facts), *_cards(facts), *_equipment(facts), *_drill(facts)])


def _people(facts: Facts) -> list[Unmet]:
    found = []
    needed = staff_needed(facts.n_people, facts.patients_per_staff, facts.least_staff)
    if len(facts.staff) < needed:
        words = (
            f"{len(facts.staff)} staff for {facts.n_people} people; this site asks for {needed} "
            f"(1 to {facts.patients_per_staff}, at least {facts.least_staff})."
        )
        found.append(Unmet("J-01", words, f"{MASSACHUSETTS}; site setting"))
    if not facts.supervisor:
        words = "No supervising physician or practitioner is named."
        found.append(Unmet("A-32", words, SUPERVISION))
    return found


def _cards(facts: Facts) -> list[Unmet]:
    found = []
    valid = {
        (c.holder, c.kind) for c in facts.cards if card_state(c.expires_on, facts.on) != "expired"
    }
    for person, name in facts.staff.items():
        held = {kind for holder, kind in valid if holder == person}
        if not held & {"BLS", "ACLS"}:
            words = f"{name} has no valid life-support certification on record."
            found.append(Unmet("J-02", words, MASSACHUSETTS))
    if not any(kind == "ACLS" for _, kind in valid):
        words = "Nobody present has a valid advanced life-support certification on record."
        found.append(Unmet("J-02", words, MASSACHUSETTS))
    return found


def _equipment(facts: Facts) -> list[Unmet]:
    if facts.check is None:
        return [Unmet("J-04", "The opening check of today is not done.", PRACTICE)]
    found = []
    for key, words, source in ITEMS:
        answer = facts.check.get(key)
        if answer is not True:
            state = "not checked" if answer is None else "not in order"
            found.append(Unmet("J-04", f"{words}: {state}.", source))
    return found


def _drill(facts: Facts) -> list[Unmet]:
    if not drill_is_due(facts.last_drill_on, facts.on):
        return []
    last = (
        f"the last was on {facts.last_drill_on:%-d %b %Y}"
        if facts.last_drill_on
        else "none is on record"
    )
    return [Unmet("J-03", f"The quarterly emergency drill is due: {last}.", MASSACHUSETTS)]
