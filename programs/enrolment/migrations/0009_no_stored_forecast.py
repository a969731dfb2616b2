"""What comes due is asked of the assessments on the day, no longer kept with the course."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("enrolment", "0008_reviews_ahead")]
    operations = [
        operation
        for model in ["enrolment", "historicalenrolment"]
        for operation in [
            migrations.RemoveField(model, "reviews_ahead"),
            migrations.RemoveField(model, "has_baseline"),
        ]
    ]
