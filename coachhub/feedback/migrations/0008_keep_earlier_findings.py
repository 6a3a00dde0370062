"""Findings that went out before versions were kept get theirs, without the links and the place nobody wrote down."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import migrations

COPIED = ("miss", "mechanism_node", "mechanism", "root_kind", "root_node", "root", "confidence")
SAID = ("start", "curve", "strike", "height")


def keep(apps: Any, schema_editor: Any) -> None:
    finding_model = apps.get_model("feedback", "Finding")
    version_model = apps.get_model("feedback", "FindingVersion")
    out = finding_model.objects.filter(review__state="published", review__finding_versions=None)
    for finding in out.select_related("review__submission").order_by("review__published_at"):
        if not any(getattr(finding, name) for name in COPIED[1:6]):
            continue
        review, submission = finding.review, finding.review.submission
        version_model.objects.create(
            public_id=uuid.uuid4(),
            review=review,
            number=1,
            kind="answer",
            by_id=review.published_by_id,
            created_at=review.published_at,
            miss_said={
                **{name: getattr(submission, f"miss_{name}") for name in SAID},
                "club_class": submission.club_class,
            },
            **{name: getattr(finding, name) for name in COPIED},
        )


class Migration(migrations.Migration):
    dependencies = [("feedback", "0007_talks")]

    operations = [migrations.RunPython(keep, migrations.RunPython.noop)]
