"""The access log: who looked at what, as far as somebody may see it; users by their keys."""

from collections.abc import Iterable
from typing import Any

from django.db.models import F, Q

from patients.calc.find import keys_of, typed_words
from patients.models import AuditEvent, Patient
from patients.prepared import Prepared
from programs.staff.models import User

MOST_PEOPLE = 500  # of whom one word is the name; more are found by more of the name


def looks_at(user: User, who: str = "") -> list[Any]:
    """What staff of this person's sites did, with patients of these sites or with nobody.

    With a name it comes in one query set for each of the staff so called and one for the patients:
    each is read along an index of its own, however long the log is.
    """
    mine = user.site_ids()
    staff = User.objects.filter(sites__in=mine).distinct()
    names = {one.pk: f"{one.first_name} {one.last_name}" for one in staff}
    # Nothing is added to the key but that no index of users is chosen: the newest of a few users
    # out of many years are found along the order they are shown in.
    events = (
        AuditEvent.objects.select_related("user", "patient")
        .alias(by=F("user_id") + 0)
        .filter(Q(patient=None) | Q(patient__site__in=mine), by__in=list(names))
    )
    words = typed_words(who)
    if not words:
        return [events]
    called = [pk for pk, name in names.items() if _is_called(name, words)]
    people = Patient.objects.visible_to(user).matching(who).order_by()
    found = list(people.values_list("pk", flat=True)[:MOST_PEOPLE])
    return [events.filter(patient__in=found), *(events.filter(user=pk) for pk in called)]


def _is_called(name: str, words: list[str]) -> bool:
    """Each word begins the name, or what follows one of its words."""
    keys = keys_of(name, "", "", "")
    return all(any(key.startswith(word) for key in keys) for word in words)


_BY_KEY = Prepared(lambda keys: User.objects.filter(pk__listed=keys).order_by(), keys=list)


def people_by(keys: Iterable[int]) -> dict[int, User]:
    """Users by their keys: one query, none without keys."""
    wanted = set(keys)
    return {one.pk: one for one in _BY_KEY(keys=wanted)} if wanted else {}
