import django.contrib.auth.validators
import django.db.models.deletion
import django.utils.timezone
import programs.staff.models
import simple_history.models
from django.conf import settings
from django.db import migrations, models



from patients.migrating import CreateRoom


class Migration(migrations.Migration):

    replaces = [('staff', '0001_initial'), ('staff', '0002_readiness'), ('staff', '0003_card_kinds'), ('staff', '0004_card_kind_is_a_choice'), ('staff', '0005_units_belong_to_the_person'), ('staff', '0006_sign_in_pace')]

    initial = True

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
    ]

    operations = [
        CreateRoom([

        migrations.CreateModel(
            name='DemoMark',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('seed', models.IntegerField()),
                ('at', models.DateTimeField(auto_now_add=True)),
            ],
        ),
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('username', models.CharField(error_messages={'unique': 'A user with that username already exists.'}, help_text='Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.', max_length=150, unique=True, validators=[django.contrib.auth.validators.UnicodeUsernameValidator()], verbose_name='username')),
                ('first_name', models.CharField(blank=True, max_length=150, verbose_name='first name')),
                ('last_name', models.CharField(blank=True, max_length=150, verbose_name='last name')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email address')),
                ('is_staff', models.BooleanField(default=False, help_text='Designates whether the user can log into this admin site.', verbose_name='staff status')),
                ('is_active', models.BooleanField(default=True, help_text='Designates whether this user should be treated as active. Unselect this instead of deleting accounts.', verbose_name='active')),
                ('date_joined', models.DateTimeField(default=django.utils.timezone.now, verbose_name='date joined')),
                ('role', models.CharField(choices=[('floor', 'Floor staff'), ('clinician', 'Clinician'), ('physician', 'Physician'), ('manager', 'Manager'), ('administrator', 'Administrator')], default='floor', max_length=16)),
                ('title', models.CharField(blank=True, help_text='For example RN, MD, CEP.', max_length=40)),
                ('shows_mmoll', models.BooleanField(blank=True, editable=False, null=True, verbose_name='glucose in mmol/L')),
                ('shows_pounds', models.BooleanField(blank=True, editable=False, null=True, verbose_name='weight in pounds')),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'verbose_name': 'user',
                'verbose_name_plural': 'users',
                'permissions': [('change_setting', 'May change settings of the program'), ('view_looks', 'May see who looked at what')],
                'abstract': False,
            },
            managers=[
                ('objects', programs.staff.models.PeopleManager()),
            ],
        ),
        migrations.CreateModel(
            name='Credential',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('BLS', 'basic life support'), ('ACLS', 'advanced life support'), ('licence', 'licence'), ('other', 'other')], max_length=12)),
                ('number', models.CharField(blank=True, default='', max_length=60, verbose_name='number or note')),
                ('expires_on', models.DateField(verbose_name='valid until')),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='credentials', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['expires_on', 'kind'],
            },
        ),
        migrations.CreateModel(
            name='HistoricalCredential',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('kind', models.CharField(choices=[('BLS', 'basic life support'), ('ACLS', 'advanced life support'), ('licence', 'licence'), ('other', 'other')], max_length=12)),
                ('number', models.CharField(blank=True, default='', max_length=60, verbose_name='number or note')),
                ('expires_on', models.DateField(verbose_name='valid until')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('user', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical credential',
                'verbose_name_plural': 'historical credentials',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalSite',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('name', models.CharField(db_index=True, max_length=80)),
                ('code', models.SlugField(max_length=8)),
                ('timezone', models.CharField(default='UTC', max_length=64, validators=[programs.staff.models.known_timezone])),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('emergency_card', models.TextField(blank=True, help_text='What to do first in an emergency, as the local plan says.')),
                ('idle_minutes', models.PositiveSmallIntegerField(default=15, verbose_name='sign out after minutes without activity')),
                ('patients_per_staff', models.PositiveSmallIntegerField(default=5, verbose_name='patients to one staff, at most')),
                ('least_staff', models.PositiveSmallIntegerField(default=2, verbose_name='staff in a class, at least')),
                ('shows_mmoll', models.BooleanField(default=False, verbose_name='glucose in mmol/L')),
                ('shows_pounds', models.BooleanField(default=False, verbose_name='weight in pounds')),
                ('keeps_drafts', models.BooleanField(default=True, help_text='For twelve hours at most; wiped at sign-out.', verbose_name='keep what is typed in the browser until it is saved')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical site',
                'verbose_name_plural': 'historical sites',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalUser',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('username', models.CharField(db_index=True, error_messages={'unique': 'A user with that username already exists.'}, help_text='Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.', max_length=150, validators=[django.contrib.auth.validators.UnicodeUsernameValidator()], verbose_name='username')),
                ('first_name', models.CharField(blank=True, max_length=150, verbose_name='first name')),
                ('last_name', models.CharField(blank=True, max_length=150, verbose_name='last name')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email address')),
                ('is_staff', models.BooleanField(default=False, help_text='Designates whether the user can log into this admin site.', verbose_name='staff status')),
                ('is_active', models.BooleanField(default=True, help_text='Designates whether this user should be treated as active. Unselect this instead of deleting accounts.', verbose_name='active')),
                ('date_joined', models.DateTimeField(default=django.utils.timezone.now, verbose_name='date joined')),
                ('role', models.CharField(choices=[('floor', 'Floor staff'), ('clinician', 'Clinician'), ('physician', 'Physician'), ('manager', 'Manager'), ('administrator', 'Administrator')], default='floor', max_length=16)),
                ('title', models.CharField(blank=True, help_text='For example RN, MD, CEP.', max_length=40)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical user',
                'verbose_name_plural': 'historical users',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='KnownDevice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('account', models.CharField(max_length=64)),
                ('device', models.CharField(max_length=64)),
                ('seen_at', models.DateTimeField()),
            ],
            options={
                'indexes': [models.Index(fields=['seen_at'], name='staff_known_seen_at_bbf990_idx')],
                'constraints': [models.UniqueConstraint(fields=('account', 'device'), name='knowndevice_once', violation_error_message='This browser is known already.')],
            },
        ),
        migrations.CreateModel(
            name='PasswordPace',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('account', models.CharField(max_length=64)),
                ('place', models.CharField(max_length=80)),
                ('address', models.CharField(blank=True, max_length=45)),
                ('n_wrong', models.PositiveIntegerField(default=0)),
                ('last_at', models.DateTimeField()),
            ],
            options={
                'indexes': [models.Index(fields=['address', 'last_at'], name='staff_passw_address_0a5d74_idx'), models.Index(fields=['last_at'], name='staff_passw_last_at_293a1a_idx')],
                'constraints': [models.UniqueConstraint(fields=('account', 'place'), name='passwordpace_once', violation_error_message='This place is counted already.')],
            },
        ),
        migrations.CreateModel(
            name='Site',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80, unique=True)),
                ('code', models.SlugField(max_length=8, unique=True)),
                ('timezone', models.CharField(default='UTC', max_length=64, validators=[programs.staff.models.known_timezone])),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('emergency_card', models.TextField(blank=True, help_text='What to do first in an emergency, as the local plan says.')),
                ('idle_minutes', models.PositiveSmallIntegerField(default=15, verbose_name='sign out after minutes without activity')),
                ('patients_per_staff', models.PositiveSmallIntegerField(default=5, verbose_name='patients to one staff, at most')),
                ('least_staff', models.PositiveSmallIntegerField(default=2, verbose_name='staff in a class, at least')),
                ('shows_mmoll', models.BooleanField(default=False, verbose_name='glucose in mmol/L')),
                ('shows_pounds', models.BooleanField(default=False, verbose_name='weight in pounds')),
                ('keeps_drafts', models.BooleanField(default=True, help_text='For twelve hours at most; wiped at sign-out.', verbose_name='keep what is typed in the browser until it is saved')),
            ],
            options={
                'ordering': ['name'],
                'constraints': [models.CheckConstraint(condition=models.Q(('idle_minutes__gte', 2), ('idle_minutes__lte', 120)), name='site_idle_minutes_bounds', violation_error_message='Sign-out must come after 2 to 120 idle minutes.'), models.CheckConstraint(condition=models.Q(('patients_per_staff__gte', 1), ('patients_per_staff__lte', 10), ('least_staff__gte', 1), ('least_staff__lte', 10)), name='site_ratio_bounds', violation_error_message='Between 1 and 10 patients to one staff, 1 to 10 staff.')],
            },
        ),
        migrations.CreateModel(
            name='OpeningCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('on', models.DateField()),
                ('answers', models.JSONField(default=dict)),
                ('note', models.CharField(blank=True, default='', max_length=200)),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='opening_checks', to='staff.site')),
            ],
            options={
                'ordering': ['-on', '-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='HistoricalUser_sites',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('m2m_history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, to='staff.historicaluser')),
                ('user', models.ForeignKey(blank=True, db_constraint=False, db_tablespace='', null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, db_tablespace='', null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'HistoricalUser_sites',
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalOpeningCheck',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('on', models.DateField()),
                ('answers', models.JSONField(default=dict)),
                ('note', models.CharField(blank=True, default='', max_length=200)),
                ('at', models.DateTimeField(blank=True, editable=False)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('by', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'historical opening check',
                'verbose_name_plural': 'historical opening checks',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalDrill',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('on', models.DateField(verbose_name='day')),
                ('scenario', models.CharField(max_length=120)),
                ('who', models.CharField(max_length=200, verbose_name='who took part')),
                ('learned', models.TextField(blank=True, default='', verbose_name='what was learned')),
                ('is_withdrawn', models.BooleanField(default=False, verbose_name='entered in error')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.CharField(max_length=100, null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='staff.site')),
            ],
            options={
                'verbose_name': 'historical drill',
                'verbose_name_plural': 'historical drills',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Drill',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('on', models.DateField(verbose_name='day')),
                ('scenario', models.CharField(max_length=120)),
                ('who', models.CharField(max_length=200, verbose_name='who took part')),
                ('learned', models.TextField(blank=True, default='', verbose_name='what was learned')),
                ('is_withdrawn', models.BooleanField(default=False, verbose_name='entered in error')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='drills', to='staff.site')),
            ],
            options={
                'ordering': ['-on', '-pk'],
            },
        ),
        migrations.AddField(
            model_name='user',
            name='sites',
            field=models.ManyToManyField(blank=True, related_name='staff', to='staff.site'),
        ),
        migrations.AddConstraint(
            model_name='user',
            constraint=models.CheckConstraint(condition=models.Q(('role__in', ['floor', 'clinician', 'physician', 'manager', 'administrator'])), name='user_role_known'),
        ),
    ])]
