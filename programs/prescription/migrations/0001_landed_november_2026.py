import django.core.validators
import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models



from patients.migrating import CreateRoom


class Migration(migrations.Migration):

    replaces = [('prescription', '0001_initial'), ('prescription', '0002_an_old_test_carries_its_reason')]

    initial = True

    dependencies = [
        ('enrolment', '0001_landed_november_2026'),
        ('staff', '0001_landed_november_2026'),
    ]

    operations = [
        CreateRoom([

        migrations.CreateModel(
            name='HistoricalPrescription',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('method', models.CharField(choices=[('reserve', 'heart-rate reserve, tested'), ('exertion', 'perceived exertion')], max_length=10)),
                ('valid_from', models.DateField()),
                ('replaced_on', models.DateField(blank=True, null=True)),
                ('resting_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('peak_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('tested_on', models.DateField(blank=True, null=True)),
                ('tested_because', models.CharField(blank=True, default='', max_length=200)),
                ('low_share', models.FloatField(blank=True, null=True)),
                ('high_share', models.FloatField(blank=True, null=True)),
                ('low_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('high_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('upper_limit_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('upper_limit_reason', models.CharField(blank=True, max_length=80)),
                ('rpe_low', models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(6), django.core.validators.MaxValueValidator(20)])),
                ('rpe_high', models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(6), django.core.validators.MaxValueValidator(20)])),
                ('target_mets', models.FloatField(blank=True, null=True)),
                ('treadmill_kmh', models.FloatField(blank=True, null=True)),
                ('treadmill_grade_percent', models.FloatField(blank=True, null=True)),
                ('cycle_w', models.FloatField(blank=True, null=True)),
                ('outside_range', models.CharField(blank=True, max_length=60)),
                ('minutes', models.PositiveSmallIntegerField()),
                ('per_week', models.PositiveSmallIntegerField(default=3)),
                ('note', models.TextField(blank=True)),
                ('formula_version', models.CharField(max_length=40)),
                ('at', models.DateTimeField(blank=True, editable=False)),
                ('signed_at', models.DateTimeField(blank=True, null=True)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('by', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('enrolment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='enrolment.enrolment')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('signed_by', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical prescription',
                'verbose_name_plural': 'historical prescriptions',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalTreatmentPlan',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('goals', models.TextField()),
                ('exercise', models.TextField(help_text='Type, amount, frequency and duration.')),
                ('risk_factors', models.TextField(blank=True, verbose_name='risk-factor modification and education')),
                ('psychosocial', models.TextField(blank=True, verbose_name='psychosocial plan')),
                ('prepared_at', models.DateTimeField(blank=True, editable=False)),
                ('signed_on', models.DateField(blank=True, null=True)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('enrolment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='enrolment.enrolment')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('prepared_by', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('signed_by', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical treatment plan',
                'verbose_name_plural': 'historical treatment plans',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Prescription',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('method', models.CharField(choices=[('reserve', 'heart-rate reserve, tested'), ('exertion', 'perceived exertion')], max_length=10)),
                ('valid_from', models.DateField()),
                ('replaced_on', models.DateField(blank=True, null=True)),
                ('resting_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('peak_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('tested_on', models.DateField(blank=True, null=True)),
                ('tested_because', models.CharField(blank=True, default='', max_length=200)),
                ('low_share', models.FloatField(blank=True, null=True)),
                ('high_share', models.FloatField(blank=True, null=True)),
                ('low_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('high_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('upper_limit_bpm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('upper_limit_reason', models.CharField(blank=True, max_length=80)),
                ('rpe_low', models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(6), django.core.validators.MaxValueValidator(20)])),
                ('rpe_high', models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(6), django.core.validators.MaxValueValidator(20)])),
                ('target_mets', models.FloatField(blank=True, null=True)),
                ('treadmill_kmh', models.FloatField(blank=True, null=True)),
                ('treadmill_grade_percent', models.FloatField(blank=True, null=True)),
                ('cycle_w', models.FloatField(blank=True, null=True)),
                ('outside_range', models.CharField(blank=True, max_length=60)),
                ('minutes', models.PositiveSmallIntegerField()),
                ('per_week', models.PositiveSmallIntegerField(default=3)),
                ('note', models.TextField(blank=True)),
                ('formula_version', models.CharField(max_length=40)),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('signed_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('enrolment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='prescriptions', to='enrolment.enrolment')),
                ('signed_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-valid_from', '-pk'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('replaced_on', None)), fields=('enrolment',), name='prescription_one_in_force', violation_error_message='Another prescription is in force.'), models.CheckConstraint(condition=models.Q(('resting_bpm__isnull', True), models.Q(('resting_bpm__gte', 20), ('resting_bpm__lte', 250)), _connector='OR'), name='prescription_resting_bpm_possible', violation_error_message='Heart rate must be 20 to 250 /min.'), models.CheckConstraint(condition=models.Q(('peak_bpm__isnull', True), models.Q(('peak_bpm__gte', 20), ('peak_bpm__lte', 250)), _connector='OR'), name='prescription_peak_bpm_possible', violation_error_message='Heart rate must be 20 to 250 /min.'), models.CheckConstraint(condition=models.Q(('low_bpm__isnull', True), models.Q(('low_bpm__gte', 20), ('low_bpm__lte', 250)), _connector='OR'), name='prescription_low_bpm_possible', violation_error_message='Heart rate must be 20 to 250 /min.'), models.CheckConstraint(condition=models.Q(('high_bpm__isnull', True), models.Q(('high_bpm__gte', 20), ('high_bpm__lte', 250)), _connector='OR'), name='prescription_high_bpm_possible', violation_error_message='Heart rate must be 20 to 250 /min.'), models.CheckConstraint(condition=models.Q(('upper_limit_bpm__isnull', True), models.Q(('upper_limit_bpm__gte', 20), ('upper_limit_bpm__lte', 250)), _connector='OR'), name='prescription_upper_limit_bpm_possible', violation_error_message='Heart rate must be 20 to 250 /min.'), models.CheckConstraint(condition=models.Q(('rpe_low__isnull', True), models.Q(('rpe_low__gte', 6), ('rpe_low__lte', 20)), _connector='OR'), name='prescription_rpe_low_possible', violation_error_message='Perceived exertion must be 6 to 20 on the 6–20 scale.'), models.CheckConstraint(condition=models.Q(('rpe_high__isnull', True), models.Q(('rpe_high__gte', 6), ('rpe_high__lte', 20)), _connector='OR'), name='prescription_rpe_high_possible', violation_error_message='Perceived exertion must be 6 to 20 on the 6–20 scale.'), models.CheckConstraint(condition=models.Q(('treadmill_kmh__isnull', True), models.Q(('treadmill_kmh__gte', 0), ('treadmill_kmh__lte', 25)), _connector='OR'), name='prescription_treadmill_kmh_possible', violation_error_message='Treadmill speed must be 0 to 25 km/h.'), models.CheckConstraint(condition=models.Q(('cycle_w__isnull', True), models.Q(('cycle_w__gte', 0), ('cycle_w__lte', 600)), _connector='OR'), name='prescription_cycle_w_possible', violation_error_message='Cycle power must be 0 to 600 W.'), models.CheckConstraint(condition=models.Q(('minutes__isnull', True), models.Q(('minutes__gte', 0), ('minutes__lte', 180)), _connector='OR'), name='prescription_minutes_possible', violation_error_message='Minutes must be 0 to 180 min.'), models.CheckConstraint(condition=models.Q(('rpe_low__lte', models.F('rpe_high'))), name='prescription_rpe_in_order', violation_error_message='The lower RPE must not exceed the upper.'), models.CheckConstraint(condition=models.Q(models.Q(('high_bpm', None), ('low_bpm', None)), models.Q(('high_bpm__isnull', False), ('low_bpm__isnull', False), ('low_bpm__lte', models.F('high_bpm'))), _connector='OR'), name='prescription_rates_in_order', violation_error_message='The lower heart rate must not exceed the upper.'), models.CheckConstraint(condition=models.Q(('high_bpm', None), ('upper_limit_bpm', None), ('high_bpm__lte', models.F('upper_limit_bpm')), _connector='OR'), name='prescription_below_upper_limit', violation_error_message='The heart-rate range exceeds the upper limit.'), models.CheckConstraint(condition=models.Q(models.Q(('method', 'reserve'), _negated=True), models.Q(('low_bpm__isnull', False), ('peak_bpm__isnull', False), ('resting_bpm__isnull', False), ('tested_on__isnull', False)), _connector='OR'), name='prescription_reserve_has_test', violation_error_message='Heart-rate reserve needs a tested resting and peak rate.'), models.CheckConstraint(condition=models.Q(models.Q(('signed_at', None), ('signed_by', None)), models.Q(('signed_at__isnull', False), ('signed_by__isnull', False)), _connector='OR'), name='prescription_signature_whole')],
            },
        ),
        migrations.CreateModel(
            name='TreatmentPlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('goals', models.TextField()),
                ('exercise', models.TextField(help_text='Type, amount, frequency and duration.')),
                ('risk_factors', models.TextField(blank=True, verbose_name='risk-factor modification and education')),
                ('psychosocial', models.TextField(blank=True, verbose_name='psychosocial plan')),
                ('prepared_at', models.DateTimeField(auto_now_add=True)),
                ('signed_on', models.DateField(blank=True, null=True)),
                ('enrolment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='plans', to='enrolment.enrolment')),
                ('prepared_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('signed_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-prepared_at', '-pk'],
                'permissions': [('add_plan', 'May prepare a plan'), ('sign_plan', 'May sign a plan')],
                'indexes': [models.Index(fields=['enrolment', '-signed_on'], name='prescriptio_enrolme_681823_idx')],
                'constraints': [models.UniqueConstraint(condition=models.Q(('signed_on', None)), fields=('enrolment',), name='treatmentplan_one_draft', violation_error_message='A draft of this plan already waits for signature.'), models.CheckConstraint(condition=models.Q(models.Q(('signed_by', None), ('signed_on', None)), models.Q(('signed_by__isnull', False), ('signed_on__isnull', False)), _connector='OR'), name='treatmentplan_signature_whole')],
            },
        ),
    ])]
