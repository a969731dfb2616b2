from django.db import migrations, models

from patients.migrating import AddIndexBesideWork


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("patients", "0002_found_by_words")]

    operations = [
        AddIndexBesideWork(
            "auditevent", models.Index(fields=["-at", "-id"], name="auditevent_newest_idx")
        ),
        AddIndexBesideWork(
            "auditevent",
            models.Index(fields=["patient", "-at", "-id"], name="auditevent_person_idx"),
        ),
        AddIndexBesideWork(
            "auditevent", models.Index(fields=["user", "-at", "-id"], name="auditevent_user_idx")
        ),
        AddIndexBesideWork(
            "patient",
            models.Index(fields=["family_name", "given_name", "id"], name="patient_name_idx"),
        ),
        AddIndexBesideWork("patient", models.Index(fields=["born_on", "site"], name="patient_born_idx")),
        migrations.RemoveIndex("auditevent", "patients_au_patient_e36cfb_idx"),
        migrations.RemoveIndex("auditevent", "patients_au_at_efe65f_idx"),
    ]
