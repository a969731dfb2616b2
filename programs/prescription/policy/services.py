"""A site's own limits of doses, and what its machines can be set to."""

from typing import Any

from django.db import transaction

from patients.history import StaleVersion, save_as
from programs.staff.models import Site, User


@transaction.atomic
def save_setting(row: Any, *, seen: int, by: User) -> None:
    """Store a site's setting.

    Raises
    ------
    StaleVersion : somebody else saved it in between, a first time too.
    ValidationError : a number is outside its bounds; nothing is stored.
    """
    Site.objects.select_for_update().get(pk=row.site_id)
    kind = type(row)
    if row.pk is not None:
        kind.objects.select_for_update().get(pk=row.pk).check_version(seen)
    else:
        same = kind.objects.filter(site=row.site_id)
        if hasattr(row, "kind"):
            same = same.filter(kind=row.kind)
        if (stored := same.first()) is not None:
            raise StaleVersion(stored)
    save_as(row, by=by, reason="setting changed")
