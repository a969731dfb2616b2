from django.db import migrations, models

KINDS = [
    ("BLS", "basic life support"),
    ("ACLS", "advanced life support"),
    ("licence", "licence"),
    ("other", "other"),
]


class Migration(migrations.Migration):

    dependencies = [
        ("staff", "0003_card_kinds"),
    ]

    operations = [
        migrations.AlterField(
            model_name=name, name="kind", field=models.CharField(choices=KINDS, max_length=12)
        )
        for name in ["credential", "historicalcredential"]
    ]
