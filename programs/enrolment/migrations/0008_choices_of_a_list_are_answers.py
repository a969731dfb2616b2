"""What was chosen for a list becomes its answers.

Columns chosen and the order of days become answers; rows already in stand at the beginning of the
file, since until now a list was taken in from the top.
"""

from django.db import migrations

NAMES_NOW = {"lvef_percent": "lvef", "nyha_class": "nyha"}
WHO_IS_IN = {"a": "n_added", "k": "n_known"}


def into_answers(apps, schema_editor):
    for listed in apps.get_model("enrolment", "ReferralList").objects.defer("data"):
        answers = {
            f"column.{index + 1}": NAMES_NOW.get(field, field)
            for field, index in listed.mapping.items()
        }
        if listed.date_order:
            answers["dates"] = listed.date_order
        listed.answers = answers
        listed.fates = (
            "a" * listed.n_added + "k" * listed.n_known + "r" * len(listed.rejected)
        )
        listed.save(update_fields=["answers", "fates"])


def into_columns(apps, schema_editor):
    then = {now: before for before, now in NAMES_NOW.items()}
    for listed in apps.get_model("enrolment", "ReferralList").objects.defer("data"):
        listed.mapping = {
            then.get(field, field): int(key.partition(".")[2]) - 1
            for key, field in listed.answers.items()
            if key.startswith("column.") and field != "none"
        }
        order = listed.answers.get("dates", "")
        listed.date_order = order if order in ("day-first", "month-first") else ""
        listed.save(update_fields=["mapping", "date_order"])


class Migration(migrations.Migration):

    dependencies = [("enrolment", "0007_answers_of_a_list")]

    operations = [migrations.RunPython(into_answers, into_columns)]
