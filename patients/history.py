"""The one door through which a clinical row is saved: validated, with who and why."""

from collections.abc import Sequence
from typing import Any, ClassVar

from django.db import IntegrityError, models, transaction
from django.utils import timezone
from simple_history.utils import bulk_create_with_history

from patients.viewer import Viewer


class NeverDeleted(Exception):
    """Raised when code tries to delete a clinical row; correct it or mark it entered in error."""


class ScopedQuerySet(models.QuerySet):
    """Rows that belong to a site, by the model's ``of_site``: the way from a row to its site."""

    def visible_to(self, user: Viewer) -> Any:
        """Rows of the sites this person works at."""
        return self.filter(**{f"{self.model.of_site}__pk__aside": user.site_ids()})  # type: ignore[attr-defined]


class ClinicalQuerySet(ScopedQuerySet):
    """Rows that stay: deleting is refused for whole sets too."""

    def delete(self) -> Any:
        raise NeverDeleted(f"{self.model._meta.verbose_name} rows are never deleted.")


class ClinicalModel(models.Model):
    """A row of the medical record. Never deleted; every version is kept by its ``history``."""

    of_site: ClassVar[str]  # the fields that lead to the site, joined by two underscores
    objects: ClassVar[Any] = ClinicalQuerySet.as_manager()

    class Meta:
        abstract = True

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        raise NeverDeleted(f"A {self._meta.verbose_name} is never deleted.")


class StaleVersion(Exception):
    """Somebody else saved the row after this form was opened."""

    def __init__(self, row: models.Model) -> None:
        self.row = row
        super().__init__(f"{row} changed in the meantime.")


class VersionedModel(ClinicalModel):
    """A clinical row that several people edit; ``version`` counts its saves."""

    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True

    def check_version(self, seen: int) -> None:
        """Raise StaleVersion unless ``seen`` is the stored version. Call on a locked row."""
        if self.version != seen:
            raise StaleVersion(self)


def save_as(row: models.Model, *, by: Any, reason: str = "") -> None:
    """Validate and save a row as somebody, keeping the reason with the version.

    The database itself holds the constraints; asking it beforehand costs a query each, so it is
    asked only when it refuses, to turn the refusal into words.

    Raises
    ------
    ValidationError : a field or a constraint refuses the row; nothing is stored.
    """
    row.clean_fields()
    row.clean()
    row._history_user = by  # type: ignore[attr-defined]
    row._change_reason = reason[:100] or None  # type: ignore[attr-defined]
    versioned = row if isinstance(row, VersionedModel) and row.pk is not None else None
    try:
        with transaction.atomic():
            if versioned is not None:
                versioned.version += 1
            row.save()
    except IntegrityError:
        if versioned is not None:
            versioned.version -= 1
        row.full_clean()
        raise


def check(row: models.Model) -> None:
    """Validate a new row that refers to rows at hand, without asking the database.

    Raises
    ------
    ValidationError : a field refuses it, in the words of ``save_as``.
    """
    row.clean_fields(exclude={f.name for f in row._meta.concrete_fields if f.is_relation})
    row.clean()


def insert_as(rows: Sequence[models.Model], *, by: Any, reason: str = "") -> None:
    """Insert new rows of one model together as somebody, each with its first version.

    Each has passed ``check``. The number of queries hardly grows with the rows. To be called
    inside a savepoint: once it is rolled back, the rows are taken ``as_new``.

    Raises
    ------
    IntegrityError : a constraint refuses one of them.
    """
    if rows:
        bulk_create_with_history(
            rows, type(rows[0]), default_user=by, default_change_reason=reason[:100] or None
        )


def as_new(rows: Sequence[models.Model]) -> None:
    """Rows whose insert was rolled back have no key any more."""
    for row in rows:
        row.pk = None
        row._state.adding = True


def save_new_as(rows: Sequence[models.Model], *, by: Any, reason: str = "") -> None:
    """Validate and save new rows of one model together; ``save_as`` of many.

    Raises
    ------
    ValidationError : a field or a constraint refuses one of them; nothing is stored.
    """
    for row in rows:
        check(row)
    try:
        with transaction.atomic():
            insert_as(rows, by=by, reason=reason)
    except IntegrityError:
        as_new(rows)
        for row in rows:
            row.full_clean()
        raise


def save_changed_as(
    rows: Sequence[VersionedModel], fields: Sequence[str], *, by: Any, reason: str = ""
) -> None:
    """Save some fields of locked rows of one model together, each as a version of its own.

    Raises
    ------
    ValidationError : a field or a constraint refuses one of them; nothing is stored.
    """
    if not rows:
        return
    for row in rows:
        check(row)
        row.version += 1
    model = type(rows[0])
    try:
        with transaction.atomic():
            model.objects.bulk_update(rows, [*fields, "version"])
    except IntegrityError:
        for row in rows:
            row.version -= 1
        for row in rows:
            row.full_clean()
        raise
    versions = model.history.bulk_history_create(  # type: ignore[attr-defined]
        rows, update=True, default_user=by, default_change_reason=reason[:100] or None
    )
    _keep_links(versions)


def note_links_as(rows: Sequence[models.Model], *, by: Any, reason: str = "") -> None:
    """A version each of rows whose links were made just now, together, with those links."""
    if rows:
        _keep_links(
            type(rows[0]).history.bulk_history_create(  # type: ignore[attr-defined]
                rows, update=True, default_user=by, default_change_reason=reason[:100] or None
            )
        )


def _keep_links(versions: Sequence[Any]) -> None:
    """A version of its own row keeps the links of that moment; those made together lack them."""
    kept = type(versions[0])
    by_key = {version.instance.pk: version for version in versions}
    for field in kept._history_m2m_fields:
        through, owner = field.remote_field.through, field.m2m_field_name()
        names = [f.attname for f in through._meta.concrete_fields]
        links = through.objects.filter(**{f"{owner}__in": by_key}).order_by("pk").values(*names)
        version_of_link = getattr(kept, field.name).model
        version_of_link.objects.bulk_create(
            version_of_link(history=by_key[link[f"{owner}_id"]], **link) for link in links
        )


def delete_as(rows: Sequence[models.Model], *, by: Any, reason: str) -> None:
    """Delete rows of one model that nothing refers to, keeping who did so and why."""
    if not rows:
        return
    model = type(rows[0])
    kept = model.history.model  # type: ignore[attr-defined]
    kept.objects.bulk_create(
        kept(
            history_date=timezone.now(),
            history_type="-",
            history_user=by,
            history_change_reason=reason[:100],
            **{f.attname: getattr(row, f.attname) for f in kept.tracked_fields},
        )
        for row in rows
    )
    found = model._default_manager.filter(pk__in=[row.pk for row in rows])
    found._raw_delete(found.db)  # delete() would write each version once more, one by one
