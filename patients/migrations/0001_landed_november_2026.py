import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models



from patients.migrating import CreateRoom


class Migration(migrations.Migration):

    replaces = [('patients', '0001_initial'), ('patients', '0002_person_details_and_operations'), ('patients', '0003_body_weight'), ('patients', '0004_diabetes_is_a_condition'), ('patients', '0005_submission_says_what_it_made'), ('patients', '0006_password_changes_are_audited')]

    initial = True

    dependencies = [
        ('staff', '0001_landed_november_2026'),
    ]

    operations = [
        CreateRoom([

        migrations.CreateModel(
            name='HistoricalPatient',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('record_number', models.CharField(blank=True, max_length=40)),
                ('given_name', models.CharField(max_length=80)),
                ('family_name', models.CharField(max_length=80)),
                ('born_on', models.DateField(verbose_name='born')),
                ('sex', models.CharField(blank=True, choices=[('female', 'female'), ('male', 'male'), ('', 'not recorded')], default='', max_length=8, verbose_name='sex for reference equations')),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('language', models.CharField(blank=True, max_length=40, verbose_name='language spoken')),
                ('needs_interpreter', models.BooleanField(blank=True, default=None, null=True)),
                ('emergency_name', models.CharField(blank=True, max_length=120, verbose_name='emergency contact')),
                ('emergency_relation', models.CharField(blank=True, max_length=40, verbose_name='relation')),
                ('emergency_phone', models.CharField(blank=True, max_length=40, verbose_name='their phone')),
                ('mobility_aid', models.CharField(blank=True, choices=[('none', 'none'), ('stick', 'stick or cane'), ('crutches', 'crutches'), ('walker', 'walking frame'), ('wheelchair', 'wheelchair'), ('other', 'other')], default='', max_length=12)),
                ('tobacco', models.CharField(blank=True, choices=[('never', 'never used'), ('former', 'former user'), ('current', 'uses now')], default='', max_length=8)),
                ('tobacco_quit_on', models.DateField(blank=True, null=True, verbose_name='stopped smoking')),
                ('has_no_allergies', models.BooleanField(default=False, verbose_name='asked, and no allergies known')),
                ('created_at', models.DateTimeField(blank=True, editable=False)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'historical patient',
                'verbose_name_plural': 'historical patients',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalPrecautionProtocol',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('access', models.CharField(choices=[('sternum', 'through the breastbone'), ('chest', 'between the ribs'), ('femoral', 'groin artery or vein'), ('radial', 'wrist artery'), ('pocket', 'device pocket below the collarbone'), ('other', 'other')], max_length=12, verbose_name='way in')),
                ('instruction', models.CharField(max_length=200)),
                ('days', models.PositiveSmallIntegerField(verbose_name='days until a clinician reviews it')),
                ('source', models.CharField(max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'historical precaution protocol',
                'verbose_name_plural': 'historical precaution protocols',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Patient',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('record_number', models.CharField(blank=True, max_length=40)),
                ('given_name', models.CharField(max_length=80)),
                ('family_name', models.CharField(max_length=80)),
                ('born_on', models.DateField(verbose_name='born')),
                ('sex', models.CharField(blank=True, choices=[('female', 'female'), ('male', 'male'), ('', 'not recorded')], default='', max_length=8, verbose_name='sex for reference equations')),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('language', models.CharField(blank=True, max_length=40, verbose_name='language spoken')),
                ('needs_interpreter', models.BooleanField(blank=True, default=None, null=True)),
                ('emergency_name', models.CharField(blank=True, max_length=120, verbose_name='emergency contact')),
                ('emergency_relation', models.CharField(blank=True, max_length=40, verbose_name='relation')),
                ('emergency_phone', models.CharField(blank=True, max_length=40, verbose_name='their phone')),
                ('mobility_aid', models.CharField(blank=True, choices=[('none', 'none'), ('stick', 'stick or cane'), ('crutches', 'crutches'), ('walker', 'walking frame'), ('wheelchair', 'wheelchair'), ('other', 'other')], default='', max_length=12)),
                ('tobacco', models.CharField(blank=True, choices=[('never', 'never used'), ('former', 'former user'), ('current', 'uses now')], default='', max_length=8)),
                ('tobacco_quit_on', models.DateField(blank=True, null=True, verbose_name='stopped smoking')),
                ('has_no_allergies', models.BooleanField(default=False, verbose_name='asked, and no allergies known')),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='patients', to='staff.site')),
            ],
            options={
                'ordering': ['family_name', 'given_name', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Medicine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('drug_class', models.CharField(choices=[('beta_blocker', 'beta-blocker'), ('nitrate', 'nitrate'), ('insulin', 'insulin'), ('secretagogue', 'insulin secretagogue'), ('glucose_lowering', 'another that lowers glucose'), ('anticoagulant', 'anticoagulant'), ('antiplatelet', 'antiplatelet'), ('ace_arb', 'ACE inhibitor or ARB'), ('calcium', 'calcium channel blocker'), ('diuretic', 'diuretic'), ('statin', 'statin or other lipid drug'), ('antiarrhythmic', 'antiarrhythmic'), ('bronchodilator', 'bronchodilator'), ('other', 'other')], max_length=16, verbose_name='class')),
                ('started_on', models.DateField(blank=True, null=True, verbose_name='started')),
                ('stopped_on', models.DateField(blank=True, null=True, verbose_name='stopped')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='medicines', to='patients.patient')),
            ],
            options={
                'ordering': ['name', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='HistoricalProcedure',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('kind', models.CharField(choices=[('cabg', 'bypass surgery'), ('valve', 'valve surgery'), ('transplant', 'transplant'), ('pci', 'stent or angioplasty'), ('tavi', 'catheter valve'), ('device', 'device implant'), ('other', 'other')], max_length=12)),
                ('performed_on', models.DateField(verbose_name='performed')),
                ('access', models.CharField(choices=[('sternum', 'through the breastbone'), ('chest', 'between the ribs'), ('femoral', 'groin artery or vein'), ('radial', 'wrist artery'), ('pocket', 'device pocket below the collarbone'), ('other', 'other')], max_length=12, verbose_name='way in')),
                ('note', models.CharField(blank=True, max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='patients.patient')),
            ],
            options={
                'verbose_name': 'historical procedure',
                'verbose_name_plural': 'historical procedures',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalPrecaution',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('kind', models.CharField(choices=[('sternum', 'sternum'), ('femoral', 'femoral access site'), ('radial', 'radial access site'), ('pocket', 'device pocket'), ('other', 'other')], max_length=12)),
                ('instruction', models.CharField(max_length=200)),
                ('review_on', models.DateField(blank=True, null=True, verbose_name='review on')),
                ('lifted_on', models.DateField(blank=True, null=True, verbose_name='lifted on')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='patients.patient')),
            ],
            options={
                'verbose_name': 'historical precaution',
                'verbose_name_plural': 'historical precautions',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalMedicine',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('drug_class', models.CharField(choices=[('beta_blocker', 'beta-blocker'), ('nitrate', 'nitrate'), ('insulin', 'insulin'), ('secretagogue', 'insulin secretagogue'), ('glucose_lowering', 'another that lowers glucose'), ('anticoagulant', 'anticoagulant'), ('antiplatelet', 'antiplatelet'), ('ace_arb', 'ACE inhibitor or ARB'), ('calcium', 'calcium channel blocker'), ('diuretic', 'diuretic'), ('statin', 'statin or other lipid drug'), ('antiarrhythmic', 'antiarrhythmic'), ('bronchodilator', 'bronchodilator'), ('other', 'other')], max_length=16, verbose_name='class')),
                ('started_on', models.DateField(blank=True, null=True, verbose_name='started')),
                ('stopped_on', models.DateField(blank=True, null=True, verbose_name='stopped')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='patients.patient')),
            ],
            options={
                'verbose_name': 'historical medicine',
                'verbose_name_plural': 'historical medicines',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalDevice',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('kind', models.CharField(choices=[('pacemaker', 'pacemaker'), ('icd', 'implanted defibrillator (ICD)')], max_length=12)),
                ('implanted_on', models.DateField(blank=True, null=True, verbose_name='implanted')),
                ('removed_on', models.DateField(blank=True, null=True, verbose_name='removed or switched off')),
                ('detection_bpm', models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='lowest detection rate, /min')),
                ('detection_read_on', models.DateField(blank=True, null=True, verbose_name='rate read on')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='patients.patient')),
            ],
            options={
                'verbose_name': 'historical device',
                'verbose_name_plural': 'historical devices',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalCondition',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('kind', models.CharField(choices=[('mi', 'heart attack'), ('pci', 'stent or angioplasty'), ('cabg', 'bypass surgery'), ('valve', 'valve repair or replacement'), ('transplant', 'heart or heart-lung transplant'), ('stable_angina', 'stable angina'), ('heart_failure', 'heart failure'), ('vad', 'ventricular assist device'), ('other', 'another heart condition'), ('unclear', 'to be clarified'), ('diabetes', 'diabetes')], max_length=16)),
                ('happened_on', models.DateField(blank=True, null=True, verbose_name='event date')),
                ('icd10', models.CharField(blank=True, max_length=10, verbose_name='ICD-10-CM code')),
                ('wording', models.CharField(blank=True, max_length=200, verbose_name='wording received')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='patients.patient')),
            ],
            options={
                'verbose_name': 'historical condition',
                'verbose_name_plural': 'historical conditions',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalBodyWeight',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('on', models.DateField(verbose_name='day')),
                ('at', models.DateTimeField(blank=True, null=True, verbose_name='hour, if known')),
                ('kg', models.FloatField(verbose_name='weight, kg')),
                ('is_withdrawn', models.BooleanField(default=False, verbose_name='entered in error')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='patients.patient')),
            ],
            options={
                'verbose_name': 'historical body weight',
                'verbose_name_plural': 'historical body weights',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalAllergy',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('substance', models.CharField(max_length=120)),
                ('reaction', models.CharField(blank=True, max_length=120)),
                ('refuted_on', models.DateField(blank=True, null=True, verbose_name='refuted')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='patients.patient')),
            ],
            options={
                'verbose_name': 'historical allergy',
                'verbose_name_plural': 'historical allergies',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Device',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('pacemaker', 'pacemaker'), ('icd', 'implanted defibrillator (ICD)')], max_length=12)),
                ('implanted_on', models.DateField(blank=True, null=True, verbose_name='implanted')),
                ('removed_on', models.DateField(blank=True, null=True, verbose_name='removed or switched off')),
                ('detection_bpm', models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='lowest detection rate, /min')),
                ('detection_read_on', models.DateField(blank=True, null=True, verbose_name='rate read on')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='devices', to='patients.patient')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Condition',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('mi', 'heart attack'), ('pci', 'stent or angioplasty'), ('cabg', 'bypass surgery'), ('valve', 'valve repair or replacement'), ('transplant', 'heart or heart-lung transplant'), ('stable_angina', 'stable angina'), ('heart_failure', 'heart failure'), ('vad', 'ventricular assist device'), ('other', 'another heart condition'), ('unclear', 'to be clarified'), ('diabetes', 'diabetes')], max_length=16)),
                ('happened_on', models.DateField(blank=True, null=True, verbose_name='event date')),
                ('icd10', models.CharField(blank=True, max_length=10, verbose_name='ICD-10-CM code')),
                ('wording', models.CharField(blank=True, max_length=200, verbose_name='wording received')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='conditions', to='patients.patient')),
            ],
            options={
                'ordering': ['-happened_on', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='BodyWeight',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('on', models.DateField(verbose_name='day')),
                ('at', models.DateTimeField(blank=True, null=True, verbose_name='hour, if known')),
                ('kg', models.FloatField(verbose_name='weight, kg')),
                ('is_withdrawn', models.BooleanField(default=False, verbose_name='entered in error')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='weights', to='patients.patient')),
            ],
            options={
                'ordering': ['on', 'at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='AuditEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('kind', models.CharField(choices=[('look', 'looked at'), ('export', 'exported'), ('refusal', 'was refused'), ('signature', 'signed'), ('sign_in', 'signed in'), ('sign_out', 'signed out'), ('import', 'imported'), ('password', 'changed a password')], max_length=10)),
                ('what', models.CharField(max_length=200)),
                ('user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.patient')),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Allergy',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('substance', models.CharField(max_length=120)),
                ('reaction', models.CharField(blank=True, max_length=120)),
                ('refuted_on', models.DateField(blank=True, null=True, verbose_name='refuted')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='allergies', to='patients.patient')),
            ],
            options={
                'verbose_name_plural': 'allergies',
                'ordering': ['substance', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Precaution',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('sternum', 'sternum'), ('femoral', 'femoral access site'), ('radial', 'radial access site'), ('pocket', 'device pocket'), ('other', 'other')], max_length=12)),
                ('instruction', models.CharField(max_length=200)),
                ('review_on', models.DateField(blank=True, null=True, verbose_name='review on')),
                ('lifted_on', models.DateField(blank=True, null=True, verbose_name='lifted on')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='precautions', to='patients.patient')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='PrecautionProtocol',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('access', models.CharField(choices=[('sternum', 'through the breastbone'), ('chest', 'between the ribs'), ('femoral', 'groin artery or vein'), ('radial', 'wrist artery'), ('pocket', 'device pocket below the collarbone'), ('other', 'other')], max_length=12, verbose_name='way in')),
                ('instruction', models.CharField(max_length=200)),
                ('days', models.PositiveSmallIntegerField(verbose_name='days until a clinician reviews it')),
                ('source', models.CharField(max_length=200)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='protocols', to='staff.site')),
            ],
            options={
                'ordering': ['access'],
            },
        ),
        migrations.CreateModel(
            name='Procedure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('cabg', 'bypass surgery'), ('valve', 'valve surgery'), ('transplant', 'transplant'), ('pci', 'stent or angioplasty'), ('tavi', 'catheter valve'), ('device', 'device implant'), ('other', 'other')], max_length=12)),
                ('performed_on', models.DateField(verbose_name='performed')),
                ('access', models.CharField(choices=[('sternum', 'through the breastbone'), ('chest', 'between the ribs'), ('femoral', 'groin artery or vein'), ('radial', 'wrist artery'), ('pocket', 'device pocket below the collarbone'), ('other', 'other')], max_length=12, verbose_name='way in')),
                ('note', models.CharField(blank=True, max_length=200)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='procedures', to='patients.patient')),
            ],
            options={
                'ordering': ['-performed_on', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Submission',
            fields=[
                ('key', models.UUIDField(primary_key=True, serialize=False)),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('made', models.BigIntegerField(null=True)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.AddIndex(
            model_name='patient',
            index=models.Index(fields=['site', 'family_name', 'given_name'], name='patients_pa_site_id_62a1ea_idx'),
        ),
        migrations.AddConstraint(
            model_name='patient',
            constraint=models.UniqueConstraint(condition=models.Q(('record_number', ''), _negated=True), fields=('site', 'record_number'), name='patient_one_record_number', violation_error_message='This record number is already in use at this site.'),
        ),
        migrations.AddConstraint(
            model_name='patient',
            constraint=models.CheckConstraint(condition=models.Q(('born_on__gte', '1900-01-01')), name='patient_born_in_living_memory', violation_error_message='The birth date must be after 1900.'),
        ),
        migrations.AddConstraint(
            model_name='patient',
            constraint=models.CheckConstraint(condition=models.Q(('tobacco_quit_on', None), ('tobacco', 'former'), _connector='OR'), name='patient_quit_only_when_former', violation_error_message='A day of stopping belongs to a former user.'),
        ),
        migrations.AddConstraint(
            model_name='patient',
            constraint=models.CheckConstraint(condition=models.Q(('sex__in', ['female', 'male', ''])), name='patient_sex_known_word'),
        ),
        migrations.AddConstraint(
            model_name='medicine',
            constraint=models.CheckConstraint(condition=models.Q(('started_on', None), ('stopped_on', None), ('stopped_on__gte', models.F('started_on')), _connector='OR'), name='medicine_stops_after_start', violation_error_message='A medicine cannot stop before it starts.'),
        ),
        migrations.AddConstraint(
            model_name='device',
            constraint=models.CheckConstraint(condition=models.Q(('detection_bpm__isnull', True), models.Q(('detection_bpm__gte', 20), ('detection_bpm__lte', 250)), _connector='OR'), name='device_detection_bpm_possible', violation_error_message='Heart rate must be 20 to 250 /min.'),
        ),
        migrations.AddConstraint(
            model_name='device',
            constraint=models.CheckConstraint(condition=models.Q(('detection_bpm', None), ('detection_read_on__isnull', False), _connector='OR'), name='device_rate_has_its_date', violation_error_message='A detection rate needs the date it was read.'),
        ),
        migrations.AddConstraint(
            model_name='condition',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['mi', 'pci', 'cabg', 'valve', 'transplant', 'stable_angina', 'heart_failure', 'vad', 'other', 'unclear', 'diabetes'])), name='condition_kind_known'),
        ),
        migrations.AddIndex(
            model_name='bodyweight',
            index=models.Index(condition=models.Q(('is_withdrawn', False)), fields=['patient', '-on'], name='bodyweight_standing_idx'),
        ),
        migrations.AddConstraint(
            model_name='bodyweight',
            constraint=models.CheckConstraint(condition=models.Q(('kg__isnull', True), models.Q(('kg__gte', 25), ('kg__lte', 350)), _connector='OR'), name='bodyweight_kg_possible', violation_error_message='Weight must be 25 to 350 kg.'),
        ),
        migrations.AddIndex(
            model_name='auditevent',
            index=models.Index(fields=['patient', '-at'], name='patients_au_patient_e36cfb_idx'),
        ),
        migrations.AddIndex(
            model_name='auditevent',
            index=models.Index(fields=['-at'], name='patients_au_at_efe65f_idx'),
        ),
        migrations.AddConstraint(
            model_name='precautionprotocol',
            constraint=models.UniqueConstraint(fields=('site', 'access'), name='precautionprotocol_one_per_access', violation_error_message='This site already has a protocol for this way in.'),
        ),
        migrations.AddConstraint(
            model_name='precautionprotocol',
            constraint=models.CheckConstraint(condition=models.Q(('days__gte', 1), ('days__lte', 365)), name='precautionprotocol_days_possible', violation_error_message='The review comes after 1 to 365 days.'),
        ),
    ])]
