from django.db import migrations

PURPOSES = ("analysis", "feedback", "cohort")


def carry_over(apps, schema_editor):
    """What the newest intake of each person agreed to becomes rows of its own, in that person's voice."""
    Intake = apps.get_model("accounts", "Intake")
    Consent = apps.get_model("accounts", "Consent")
    StandingConsent = apps.get_model("accounts", "StandingConsent")
    done = set()
    for intake in Intake.objects.order_by("-created_at", "-id").iterator():
        if intake.user_id in done:
            continue
        done.add(intake.user_id)
        for purpose in PURPOSES:
            if not getattr(intake, f"agrees_{purpose}"):
                continue
            Consent.objects.create(
                person_id=intake.user_id,
                purpose=purpose,
                is_given=True,
                by_id=intake.user_id,
                voice="self",
                created_at=intake.created_at,
            )
            StandingConsent.objects.create(person_id=intake.user_id, purpose=purpose, since=intake.created_at)


class Migration(migrations.Migration):

    dependencies = [
        ("accounts", "0006_guardians"),
    ]

    operations = [
        migrations.RunPython(carry_over, migrations.RunPython.noop),
    ]
