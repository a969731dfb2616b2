"""Numbers computed beside a result get the keys by which they are found, in every version."""

from django.db import migrations

KEYS = {
    "220 - age": "fox_bpm",
    "IFCC": "ifcc_mmol_mol",
    "LDL": "ldl_mgdl",
    "LDL in SI": "ldl_si",
    "LDL, measured": "ldl_mgdl",
    "METs": "mets",
    "UK mean of this age": "mean",
    "creatinine": "creatinine_mgdl",
    "diastolic": "diastolic_mmhg",
    "down in": "down_s",
    "estimated average glucose": "average_glucose_mgdl",
    "feet side by side": "side_by_side_s",
    "first threshold at": "first_threshold_percent",
    "height": "height_cm",
    "in SI": "si",
    "items": "n_items",
    "items answered": "n_answered",
    "lower limit": "lower_limit",
    "lower limit of normal": "lower_limit",
    "mean cost of walking": "mean_mets",
    "mean of this age": "mean",
    "mean of this age and sex": "mean",
    "of predicted": "percent_predicted",
    "one leg": "one_leg_s",
    "pack-years": "pack_years",
    "peak oxygen uptake, estimate": "vo2_estimate",
    "power at 220 - age": "power_at_peak_w",
    "power going up": "power_w",
    "predicted": "predicted",
    "semi-tandem": "semi_tandem_s",
    "standard to stay independent": "independent_from",
    "tandem": "tandem_s",
    "to": "usual_to",
    "trials": "n_trials",
    "usual range from": "usual_from",
    "weight": "weight_kg",
}
BATCH = 2000


def in_every_version(apps, change):
    for name in ["Measurement", "HistoricalMeasurement"]:
        model = apps.get_model("assessments", name)
        changed = []
        for row in model.objects.exclude(derived=[]).only("pk", "derived").iterator(BATCH):
            row.derived = [change(entry) for entry in row.derived]
            changed.append(row)
            if len(changed) == BATCH:
                model.objects.bulk_update(changed, ["derived"])
                changed = []
        model.objects.bulk_update(changed, ["derived"])


def add_keys(apps, schema_editor):
    in_every_version(apps, lambda entry: {"key": KEYS[entry["label"]]} | entry)


def take_keys(apps, schema_editor):
    in_every_version(apps, lambda entry: {k: v for k, v in entry.items() if k != "key"})


class Migration(migrations.Migration):
    dependencies = [("assessments", "0006_carry_weights_over")]
    operations = [migrations.RunPython(add_keys, take_keys)]
