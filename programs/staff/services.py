"""Writes about a site: its settings, the opening check, drills, cards."""

import uuid
from collections.abc import Mapping
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import UniqueConstraint

from patients.calc.measuring import QUANTITIES
from patients.claims import claim
from patients.history import StaleVersion, save_as
from programs.staff.models import Credential, Drill, OpeningCheck, Site, User

# How somebody reads and types, whatever site and device they are at.
OWN = frozenset({*(quantity.switch for quantity in QUANTITIES), "has_letter_keys"})


@transaction.atomic
def choose_settings(
    user: User, chosen: Mapping[str, bool | None], *, key: uuid.UUID | None = None
) -> None:
    """Somebody's own settings from now on; None follows the site.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValueError : a name that is none of these settings.
    """
    if not OWN.issuperset(chosen):
        raise ValueError(f"not somebody's own setting: {sorted(set(chosen) - OWN)}")
    claim(key, by=user)
    for name, value in chosen.items():
        setattr(user, name, value)
    User.objects.filter(pk=user.pk).update(**chosen)  # no version of the person


@transaction.atomic
def save_setting(row: Any, *, seen: int, by: User) -> None:
    """Store a site's setting.

    Raises
    ------
    StaleVersion : somebody else saved it in between, a first time too.
    ValidationError : a number is outside its bounds; nothing is stored.
    """
    Site.objects.select_for_update().get(pk=row.site_id)
    if row.pk is not None:
        type(row).objects.select_for_update().get(pk=row.pk).check_version(seen)
    elif (stored := _twin(row)) is not None:
        raise StaleVersion(stored)
    save_as(row, by=by, reason="setting changed")


def _twin(row: Any) -> Any:
    """What somebody stored meanwhile in the place of a setting that is new."""
    kind = type(row)
    unique = [c.fields for c in kind._meta.constraints if isinstance(c, UniqueConstraint)]
    fields = next((names for names in unique if "site" in names), ("site",))
    return kind.objects.filter(**{name: getattr(row, name) for name in fields}).first()


@transaction.atomic
def record_check(
    site: Site,
    answers: Mapping[str, bool],
    note: str = "",
    *,
    key: uuid.UUID | None = None,
    by: User,
) -> OpeningCheck:
    """Store today's look at the equipment; a later one takes its place, both are kept.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : something is not in order and no note says what.
    """
    claim(key, by=by)
    if any(answer is False for answer in answers.values()) and not note.strip():
        raise ValidationError("Say in the note what is not in order and what is done about it.")
    row = OpeningCheck(site=site, on=site.today(), answers=dict(answers), note=note, by=by)
    save_as(row, by=by, reason="opening check")
    return row


@transaction.atomic
def record_drill(
    site: Site,
    on: date,
    scenario: str,
    who: str,
    learned: str = "",
    *,
    key: uuid.UUID | None = None,
    by: User,
) -> Drill:
    """Store an emergency drill.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : the day lies ahead.
    """
    claim(key, by=by)
    if on > site.today():
        raise ValidationError("A drill is noted once it was held.")
    row = Drill(site=site, on=on, scenario=scenario, who=who, learned=learned)
    save_as(row, by=by, reason="drill held")
    return row


@transaction.atomic
def withdraw_drill(drill: Drill, *, by: User) -> None:
    """Entered in error: it stays in the record, marked, and no longer counts."""
    row = Drill.objects.select_for_update().get(pk=drill.pk)
    row.is_withdrawn = True
    save_as(row, by=by, reason="entered in error")


@transaction.atomic
def save_card(card: Credential, *, key: uuid.UUID | None = None, by: User) -> None:
    """Add or correct somebody's card; raises AlreadyTaken for a form saved before."""
    claim(key, by=by)
    save_as(card, by=by, reason="card")
