"""A demo loaded before the rooms were put in order keeps every clinical row through migration.

``fixtures/landed`` holds sixteen invented people of that demo with all their rows and versions, as
the version of 26 November 2026 stored them: table by table, column by column.
"""

import gzip
import json
from pathlib import Path

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

pytestmark = pytest.mark.django_db(transaction=True)
LANDED = Path(__file__).parents[1] / "fixtures" / "landed" / "demo_before_the_rooms_moved.json.gz"
BEFORE = [
    ("patients", "0002_person_details_and_operations"),
    ("staff", "0004_card_kind_is_a_choice"),
    ("enrolment", "0008_reviews_ahead"),
    ("assessments", "0004_informal_by_week"),
    ("prescription", "0001_initial"),
    ("attendance", "0005_answers_instead_of_new_symptoms"),
]
# What is worked out on the day instead, and what no form ever asked for.
GONE = {"reviews_ahead", "has_baseline", "dyspnoea"}


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


def without_keys(derived):
    return [{k: v for k, v in entry.items() if k != "key"} for entry in derived]


def test_a_loaded_demo_comes_through_migration_whole():
    landed = json.loads(gzip.decompress(LANDED.read_bytes()))
    heads = MigrationExecutor(connection).loader.graph.leaf_nodes()
    try:
        store(migrate(BEFORE), landed)
    finally:
        migrate(heads)
    every_row_and_every_version_is_as_it_was(landed)
    weights_became_the_persons_and_results_carry_keys(landed)


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
                if name not in fields:
                    assert name in GONE, (label, name)
                    continue
                kept = getattr(now, name)
                kept = without_keys(kept) if name == "derived" else kept
                assert kept == fields[name].to_python(value), (label, row, name)
                n_compared += 1
    assert n_compared > 100_000


def weights_became_the_persons_and_results_carry_keys(landed):
    from assessments.models import Measurement
    from patients.models import BodyWeight
    from programs.attendance.models import Reading

    weighed = Reading.objects.exclude(weight_kg=None).select_related("body_weight", "visit")
    assert weighed.count() > 300
    for reading in weighed:
        weight = reading.body_weight
        assert (weight.kg, weight.on, weight.at) == (
            reading.weight_kg,
            reading.visit.on,
            reading.taken_at,
        )
    sizes = Measurement.objects.standing().filter(key="body_mass_index")
    for row in sizes.select_related("body_weight", "assessment"):
        assert row.body_weight.kg == row.inputs["weight_kg"]
        assert row.body_weight.on == row.assessment.performed_on
    assert BodyWeight.objects.count() == weighed.count() + sizes.count()
    assert BodyWeight.history.count() == BodyWeight.objects.count()
    for table in ["Measurement", "HistoricalMeasurement"]:
        for row in apps.get_model("assessments", table).objects.all():
            assert all(entry["key"] for entry in row.derived)
    assert not any(r["dyspnoea"] for r in landed["attendance.Reading"])
