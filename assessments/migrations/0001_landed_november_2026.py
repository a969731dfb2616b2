import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models



from patients.migrating import CreateRoom


class Migration(migrations.Migration):

    replaces = [('assessments', '0001_initial'), ('assessments', '0002_the_battery'), ('assessments', '0003_schedule_and_policy'), ('assessments', '0004_informal_by_week'), ('assessments', '0005_weight_is_of_the_person'), ('assessments', '0006_carry_weights_over'), ('assessments', '0007_results_carry_keys'), ('assessments', '0008_units_of_filtration_and_longer_courses'), ('assessments', '0009_filtration_is_per_body_surface')]

    initial = True

    dependencies = [
        ('enrolment', '0001_landed_november_2026'),
        ('patients', '0001_landed_november_2026'),
        ('staff', '0001_landed_november_2026'),
    ]

    operations = [
        CreateRoom([

        migrations.CreateModel(
            name='Assessment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('kind', models.CharField(choices=[('baseline', 'Baseline assessment'), ('informal', 'Informal check'), ('six_weeks', 'Six-week reassessment'), ('exit', 'Exit assessment')], max_length=12)),
                ('number', models.PositiveSmallIntegerField(default=1)),
                ('planned_on', models.DateField(blank=True, null=True)),
                ('performed_on', models.DateField(blank=True, null=True)),
                ('not_obtained_because', models.CharField(blank=True, max_length=200)),
                ('note', models.TextField(blank=True)),
                ('limits', models.JSONField(blank=True, default=list, verbose_name='seems limited by')),
                ('tests', models.JSONField(blank=True, default=list, verbose_name='tests chosen')),
                ('booked_with', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('enrolment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='assessments', to='enrolment.enrolment')),
            ],
            options={
                'ordering': ['performed_on', 'planned_on', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='AssessmentPolicy',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('informal_every_days', models.PositiveSmallIntegerField(default=14)),
                ('rhythm', models.JSONField(blank=True, default=list)),
                ('longest_course_m', models.FloatField(blank=True, null=True)),
                ('reason', models.CharField(max_length=200)),
                ('concern_owner', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='assessment_policy', to='staff.site')),
            ],
        ),
        migrations.CreateModel(
            name='Concern',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=40)),
                ('sentence', models.CharField(max_length=200)),
                ('raised_at', models.DateTimeField(auto_now_add=True)),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
                ('outcome', models.TextField(blank=True)),
                ('assessment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='concerns', to='assessments.assessment')),
                ('closed_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('owner', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['raised_at'],
            },
        ),
        migrations.CreateModel(
            name='HistoricalAssessment',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('kind', models.CharField(choices=[('baseline', 'Baseline assessment'), ('informal', 'Informal check'), ('six_weeks', 'Six-week reassessment'), ('exit', 'Exit assessment')], max_length=12)),
                ('number', models.PositiveSmallIntegerField(default=1)),
                ('planned_on', models.DateField(blank=True, null=True)),
                ('performed_on', models.DateField(blank=True, null=True)),
                ('not_obtained_because', models.CharField(blank=True, max_length=200)),
                ('note', models.TextField(blank=True)),
                ('limits', models.JSONField(blank=True, default=list, verbose_name='seems limited by')),
                ('tests', models.JSONField(blank=True, default=list, verbose_name='tests chosen')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('booked_with', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('by', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('enrolment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='enrolment.enrolment')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical assessment',
                'verbose_name_plural': 'historical assessments',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalAssessmentPolicy',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('informal_every_days', models.PositiveSmallIntegerField(default=14)),
                ('rhythm', models.JSONField(blank=True, default=list)),
                ('longest_course_m', models.FloatField(blank=True, null=True)),
                ('reason', models.CharField(max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('concern_owner', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'historical assessment policy',
                'verbose_name_plural': 'historical assessment policys',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalConcern',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('key', models.CharField(max_length=40)),
                ('sentence', models.CharField(max_length=200)),
                ('raised_at', models.DateTimeField(blank=True, editable=False)),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
                ('outcome', models.TextField(blank=True)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('assessment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='assessments.assessment')),
                ('closed_by', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('owner', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical concern',
                'verbose_name_plural': 'historical concerns',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalMeasurement',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('key', models.CharField(max_length=40)),
                ('inputs', models.JSONField()),
                ('value', models.FloatField(blank=True, null=True)),
                ('unit', models.CharField(blank=True, max_length=20)),
                ('derived', models.JSONField(blank=True, default=list)),
                ('interpretation', models.CharField(blank=True, max_length=200)),
                ('reference', models.CharField(blank=True, max_length=120)),
                ('remarks', models.JSONField(blank=True, default=list)),
                ('is_in_range', models.BooleanField(default=True)),
                ('formula_version', models.CharField(max_length=40)),
                ('error_reason', models.CharField(blank=True, max_length=200, verbose_name='entered in error because')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('assessment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='assessments.assessment')),
                ('body_weight', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='patients.bodyweight')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical measurement',
                'verbose_name_plural': 'historical measurements',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalSiteEquation',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('key', models.CharField(max_length=40)),
                ('equation', models.PositiveSmallIntegerField()),
                ('reason', models.CharField(max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'historical site equation',
                'verbose_name_plural': 'historical site equations',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalSiteTarget',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('key', models.CharField(max_length=40)),
                ('amount', models.FloatField()),
                ('reason', models.CharField(max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'historical site target',
                'verbose_name_plural': 'historical site targets',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalUsualTests',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('kind', models.CharField(choices=[('baseline', 'Baseline assessment'), ('informal', 'Informal check'), ('six_weeks', 'Six-week reassessment'), ('exit', 'Exit assessment')], max_length=12)),
                ('tests', models.JSONField(default=list)),
                ('reason', models.CharField(max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'historical usual tests',
                'verbose_name_plural': 'historical usual testss',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Measurement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=40)),
                ('inputs', models.JSONField()),
                ('value', models.FloatField(blank=True, null=True)),
                ('unit', models.CharField(blank=True, max_length=20)),
                ('derived', models.JSONField(blank=True, default=list)),
                ('interpretation', models.CharField(blank=True, max_length=200)),
                ('reference', models.CharField(blank=True, max_length=120)),
                ('remarks', models.JSONField(blank=True, default=list)),
                ('is_in_range', models.BooleanField(default=True)),
                ('formula_version', models.CharField(max_length=40)),
                ('error_reason', models.CharField(blank=True, max_length=200, verbose_name='entered in error because')),
                ('assessment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='measurements', to='assessments.assessment')),
                ('body_weight', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.bodyweight')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='SiteEquation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('key', models.CharField(max_length=40)),
                ('equation', models.PositiveSmallIntegerField()),
                ('reason', models.CharField(max_length=200)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='equations', to='staff.site')),
            ],
            options={
                'ordering': ['key'],
            },
        ),
        migrations.CreateModel(
            name='SiteTarget',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('key', models.CharField(max_length=40)),
                ('amount', models.FloatField()),
                ('reason', models.CharField(max_length=200)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='targets', to='staff.site')),
            ],
            options={
                'ordering': ['key'],
            },
        ),
        migrations.CreateModel(
            name='UsualTests',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('kind', models.CharField(choices=[('baseline', 'Baseline assessment'), ('informal', 'Informal check'), ('six_weeks', 'Six-week reassessment'), ('exit', 'Exit assessment')], max_length=12)),
                ('tests', models.JSONField(default=list)),
                ('reason', models.CharField(max_length=200)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='usual_tests', to='staff.site')),
            ],
            options={
                'ordering': ['kind'],
            },
        ),
        migrations.AddConstraint(
            model_name='assessment',
            constraint=models.UniqueConstraint(fields=('enrolment', 'kind', 'number'), name='assessment_one_of_each', violation_error_message='This assessment already exists.'),
        ),
        migrations.AddConstraint(
            model_name='assessment',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['baseline', 'informal', 'six_weeks', 'exit'])), name='assessment_kind_known'),
        ),
        migrations.AddConstraint(
            model_name='assessment',
            constraint=models.CheckConstraint(condition=models.Q(('performed_on', None), ('by__isnull', False), _connector='OR'), name='assessment_performed_by_somebody', violation_error_message='A performed assessment names who performed it.'),
        ),
        migrations.AddConstraint(
            model_name='assessment',
            constraint=models.CheckConstraint(condition=models.Q(('performed_on', None), ('not_obtained_because', ''), _connector='OR'), name='assessment_performed_or_not_obtained', violation_error_message='A performed assessment was obtained.'),
        ),
        migrations.AddConstraint(
            model_name='assessmentpolicy',
            constraint=models.CheckConstraint(condition=models.Q(('informal_every_days__in', [7, 14])), name='assessmentpolicy_informal_possible', violation_error_message='Informal checks come every 7 or every 14 days.'),
        ),
        migrations.AddConstraint(
            model_name='assessmentpolicy',
            constraint=models.CheckConstraint(condition=models.Q(('longest_course_m__isnull', True), models.Q(('longest_course_m__gte', 10), ('longest_course_m__lte', 400)), _connector='OR'), name='assessmentpolicy_longest_course_m_possible', violation_error_message='Course length must be 10 to 400 m.'),
        ),
        migrations.AddConstraint(
            model_name='concern',
            constraint=models.UniqueConstraint(condition=models.Q(('closed_at', None)), fields=('assessment', 'key'), name='concern_one_open'),
        ),
        migrations.AddConstraint(
            model_name='concern',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('closed_at', None), ('closed_by', None)), models.Q(('closed_at__isnull', False), ('closed_by__isnull', False), models.Q(('outcome', ''), _negated=True)), _connector='OR'), name='concern_closed_with_outcome', violation_error_message='Closing needs what was done.'),
        ),
        migrations.AddIndex(
            model_name='measurement',
            index=models.Index(fields=['key', 'assessment'], name='assessments_key_35034d_idx'),
        ),
        migrations.AddConstraint(
            model_name='measurement',
            constraint=models.UniqueConstraint(condition=models.Q(('error_reason', '')), fields=('assessment', 'key'), name='measurement_one_standing', violation_error_message='This test is already recorded here.'),
        ),
        migrations.AddConstraint(
            model_name='siteequation',
            constraint=models.UniqueConstraint(fields=('site', 'key'), name='siteequation_one_a_test', violation_error_message='This site already chose an equation for this test.'),
        ),
        migrations.AddConstraint(
            model_name='sitetarget',
            constraint=models.UniqueConstraint(fields=('site', 'key'), name='sitetarget_one_a_factor', violation_error_message='This site already has a target for this.'),
        ),
        migrations.AddConstraint(
            model_name='usualtests',
            constraint=models.UniqueConstraint(fields=('site', 'kind'), name='usualtests_one_a_kind', violation_error_message='This site already has a set for this assessment.'),
        ),
        migrations.AddConstraint(
            model_name='usualtests',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['baseline', 'informal', 'six_weeks', 'exit'])), name='usualtests_kind_known'),
        ),
    ])]
