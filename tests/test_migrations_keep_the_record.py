"""A database of the landed version upgrades, and every clinical row comes through as it was.

``fixtures/landed`` holds sixteen invented people with all their rows and versions, table by table,
column by column, as the version of 26 November 2026 stored them. Each room's migrations up to that
version were squashed into its first one.
"""

import gzip
import json
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from programs.enrolment.models import CourseTotals
from reports import totals

pytestmark = pytest.mark.django_db(transaction=True)
LANDED = Path(__file__).parents[1] / "fixtures" / "landed" / "sixteen_people.json.gz"
SQUASHED = "0001_landed_november_2026"
ROOMS = ["patients", "staff", "enrolment", "assessments", "prescription", "attendance"]


def migrate(targets):
    executor = MigrationExecutor(connection)
    executor.migrate(targets)
    return MigrationExecutor(connection).loader.project_state(targets).apps


def store(then, landed):
    """The rows as they were, by the models of that time."""
    with transaction.atomic():
        for label, rows in landed.items():
            model = then.get_model(label)
            fields = {f.attname: f for f in model._meta.concrete_fields}
            for field in fields.values():
                field.auto_now_add = field.auto_now = False  # the moment it was stored then
            model._base_manager.bulk_create(
                [
                    model(**{name: fields[name].to_python(v) for name, v in row.items()})
                    for row in rows
                ],
                batch_size=200,
            )


def as_recorded_then():
    """The landed version knew nothing of the squashed migrations, only of those they replace."""
    recorder = MigrationRecorder(connection)
    replaced = MigrationExecutor(connection).loader.replacements
    for room in ROOMS:
        recorder.record_unapplied(room, SQUASHED)
        for app, name in replaced[room, SQUASHED].replaces:
            recorder.record_applied(app, name)


def test_a_database_of_the_landed_version_upgrades_whole():
    landed = json.loads(gzip.decompress(LANDED.read_bytes()))
    heads = MigrationExecutor(connection).loader.graph.leaf_nodes()
    try:
        store(migrate([(room, SQUASHED) for room in ROOMS]), landed)
        as_recorded_then()
        call_command("migrate", verbosity=0)
        recorded = MigrationRecorder(connection).applied_migrations()
        assert set(heads) <= set(recorded)
        every_row_and_every_version_is_as_it_was(landed)
        what_is_kept_beside_the_record_is_there()
    finally:
        migrate(heads)


def every_row_and_every_version_is_as_it_was(landed):
    n_compared = 0
    for label, rows in landed.items():
        model = apps.get_model(label)
        fields = {f.attname: f for f in model._meta.concrete_fields}
        stored = {row.pk: row for row in model._base_manager.all()}
        assert len(stored) == len(rows), label
        for row in rows:
            now = stored[row[model._meta.pk.attname]]
            for name, value in row.items():
                assert getattr(now, name) == fields[name].to_python(value), (label, row, name)
                n_compared += 1
    assert n_compared > 100_000


def what_is_kept_beside_the_record_is_there():
    """Totals and words to be found by are worked out for those who were there."""
    assert CourseTotals.objects.count() == 14
    assert CourseTotals.objects.filter(sessions__gt=0).count() > 8
    assert not list(totals.differences())
    call_command("verify_totals", verbosity=0)
