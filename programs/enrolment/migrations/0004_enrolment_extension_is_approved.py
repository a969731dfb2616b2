from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("enrolment", "0003_note_earlier_extensions"),
    ]

    operations = [
        migrations.AddConstraint(
            model_name='enrolment',
            constraint=models.CheckConstraint(condition=models.Q(('sessions_planned__lte', 36), models.Q(('extension_reason', ''), _negated=True), _connector='OR'), name='enrolment_extension_is_approved', violation_error_message='More than 36 sessions need the payer’s approval: say who approved.'),
        ),
    ]
