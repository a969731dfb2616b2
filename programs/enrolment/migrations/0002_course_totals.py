"""What a course came to, on one row; ``attendance.0003`` fills those of before."""
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('enrolment', '0001_landed_november_2026'),
        ('staff', '0001_landed_november_2026'),
    ]

    operations = [
        migrations.CreateModel(
            name='CourseTotals',
            fields=[
                ('enrolment', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, related_name='totals', serialize=False, to='enrolment.enrolment')),
                ('starts_on', models.DateField()),
                ('starts_in', models.PositiveIntegerField()),
                ('planned', models.PositiveSmallIntegerField()),
                ('has_ended', models.BooleanField()),
                ('outcome', models.CharField(blank=True, default='', max_length=12)),
                ('waits_since', models.DateField()),
                ('sessions', models.PositiveSmallIntegerField(default=0)),
                ('sessions_in_36_weeks', models.PositiveSmallIntegerField(default=0)),
                ('first_on', models.DateField(null=True)),
                ('days_to_start', models.IntegerField(null=True)),
                ('has_exit', models.BooleanField(default=False)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='staff.site')),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=[
                            "site",
                            "starts_in",
                            "starts_on",
                            "has_ended",
                            "sessions",
                            "sessions_in_36_weeks",
                            "planned",
                            "has_exit",
                            "days_to_start",
                            "outcome",
                        ],
                        name="coursetotals_figures_idx",
                    )
                ],
            },
        ),
    ]
