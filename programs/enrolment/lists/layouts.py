"""Layouts: how the lists of one sender are read, kept by a site under a name."""

from django.core.exceptions import ValidationError
from django.db import transaction

from programs.enrolment.calc.lists.asking import day_of
from programs.enrolment.calc.lists.fields import plain
from programs.enrolment.calc.lists.grid import Table
from programs.enrolment.models import ListLayout, ReferralList
from programs.staff.models import Site, User

ROW_KEYS = (":", "@")  # a question of rows has one of these in its key


def is_of_rows(key: str) -> bool:
    """Whether a key is of a question of rows, not of the whole file."""
    return any(sign in key for sign in ROW_KEYS)


def headers_of(table: Table) -> list[str]:
    """The names of columns as layouts are compared by; a file without a header has none."""
    return [plain(header) for header in table.headers] if table.has_header else []


def matching(site: Site, table: Table) -> ListLayout | None:
    """The one layout in use for exactly these columns; None for none and for several."""
    headers = headers_of(table)
    if table.conditions or not any(headers):
        return None
    kept = ListLayout.objects.filter(site=site, is_active=True)
    found = [layout for layout in kept if layout.headers == headers]
    return found[0] if len(found) == 1 else None


def worth_keeping(listed: ReferralList) -> dict[str, str]:
    """Answers of the whole file that hold for the next one too; a day never does."""
    return {
        key: value
        for key, value in listed.answers.items()
        if not is_of_rows(key) and day_of(value) is None
    }


@transaction.atomic
def keep(listed: ReferralList, table: Table, name: str, *, by: User) -> ListLayout:
    """Keep what was answered for a file under a name; one of this name is changed to it.

    Raises
    ------
    ValidationError : nothing was answered, the file has no header, or the name is empty.
    """
    answers, headers = worth_keeping(listed), headers_of(table)
    if not answers or not any(headers):
        raise ValidationError("Nothing of this file can be kept for the next one.")
    layout = ListLayout.objects.select_for_update().filter(site=listed.site, name=name).first()
    layout = layout or ListLayout(site=listed.site, name=name, version=0)
    layout.headers, layout.answers, layout.by, layout.is_active = headers, answers, by, True
    layout.version += 1
    layout.full_clean(exclude=["site", "by"])
    layout.save()
    listed.layout = layout
    listed.save(update_fields=["layout"])
    return layout


@transaction.atomic
def change(
    layout: ListLayout, name: str, forget: list[str], is_active: bool, *, seen: int, by: User
) -> None:
    """Rename a layout, forget answers of it, take it out of use.

    Raises
    ------
    ValidationError : the name is taken, or somebody else saved it meanwhile.
    """
    row = ListLayout.objects.select_for_update().get(pk=layout.pk)
    if row.version != seen:
        raise ValidationError("Somebody changed this layout meanwhile; look at it again.")
    row.name, row.is_active, row.by = name, is_active, by
    row.answers = {key: value for key, value in row.answers.items() if key not in forget}
    row.version += 1
    row.full_clean(exclude=["site", "by"])
    row.save()
