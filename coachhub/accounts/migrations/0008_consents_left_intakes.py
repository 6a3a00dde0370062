from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ("accounts", "0007_consents_from_intakes"),
    ]

    operations = [
        migrations.RemoveField(
            model_name='intake',
            name='agrees_analysis',
        ),
        migrations.RemoveField(
            model_name='intake',
            name='agrees_cohort',
        ),
        migrations.RemoveField(
            model_name='intake',
            name='agrees_feedback',
        ),
    ]
