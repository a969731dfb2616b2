"""What a row says otherwise than a referral on record, or than another row."""

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from patients.calc.days import in_words
from programs.enrolment.calc.lists.rows import ListedRow
from programs.enrolment.models import Referral
from programs.enrolment.referrals.earlier import Event

# What a later list may correct of a referral on record.
CORRECTED = [
    "admitted_on", "discharged_on", "referrer", "lvef_percent", "lvef_reported", "nyha_class",
    "reported_weight_kg", "reported_height_cm",
]  # fmt: skip


@dataclass
class Change:
    """What a row corrects of a referral on record."""

    referral: Referral
    values: dict[str, Any]
    event_on: date | None = None  # the day of its main condition, where that changes
    words: list[str] = field(default_factory=list)


def change_of(row: ListedRow, before: Event) -> Change | None:
    """What a row says otherwise than a referral on record; what it leaves empty erases nothing."""
    referral = before.referral
    if referral is None:
        return None
    change = Change(referral, {})
    for name in CORRECTED:
        new, old = getattr(row, name), getattr(referral, name)
        if new in (None, "") or _same(new, old):
            continue
        change.values[name] = new
        change.words.append(f"{_label(name)} {_shown(new)} instead of {_shown(old)}")
    event = row.main.happened_on
    if event is not None and event != before.happened_on:
        change.event_on = event
        change.words.append(f"event date {_shown(event)} instead of {_shown(before.happened_on)}")
    return change


def _same(new: Any, old: Any) -> bool:
    if isinstance(new, float) and old is not None:
        return abs(new - old) < 0.01
    return bool(new == old)


def _shown(value: Any) -> str:
    if isinstance(value, date):
        return in_words(value)
    if isinstance(value, float):
        return f"{value:.4g}"
    return "nothing" if value in (None, "") else f"{value}"


def differences(row: ListedRow, first: ListedRow) -> list[str]:
    """What two rows of one event say differently, in words."""
    found = [
        _label(name)
        for name in ["referred_on", *CORRECTED]
        if getattr(row, name) not in (None, "", getattr(first, name))
    ]
    kinds = [[c.kind for c in one.conditions] for one in (row, first)]
    return found if kinds[0] == kinds[1] else [*found, "conditions"]


def _label(name: str) -> str:
    return str(getattr(Referral._meta.get_field(name), "verbose_name", name))
