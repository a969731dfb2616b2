from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [("enrolment", "0008_choices_of_a_list_are_answers")]

    operations = [
        migrations.RemoveField("referrallist", "mapping"),
        migrations.RemoveField("referrallist", "date_order"),
    ]
