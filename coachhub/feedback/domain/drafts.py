"""The answer while it is being written."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.finding import save_finding
from coachhub.feedback.domain.ideas import save_idea
from coachhub.feedback.domain.revisions import Attempt, advance
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.models import Drill, Review

TEXTS = {"words": "words", "keep": "keep", "priority": "priority", "cue": "cue", "dose": "dose"}


@transaction.atomic
def save_draft(
    review: Review,
    fields: Mapping[str, Any],
    *,
    revision: int,
    by: User,
    now: datetime,
    attempt: Attempt | None = None,
) -> Review:
    """Keep what the coach has so far; only the given fields change.

    ``fields``: any of words, keep, priority, cue, dose (text), drill (a Drill or None), finding (a mapping, see
    ``finding.save_finding``), idea (a mapping, see ``ideas.save_idea``). ``revision`` is the one the caller read;
    raises Stale if another tab saved since.
    """
    changes = _checked(fields, by)
    finding, idea = fields.get("finding"), fields.get("idea")
    advance(review, revision=revision, by=by, now=now, attempt=attempt, **changes)
    if finding is not None:
        save_finding(review, finding)
    if idea is not None:
        save_idea(review, idea, by=by)
    return review


def _checked(fields: Mapping[str, Any], by: User) -> dict[str, Any]:
    unknown = set(fields) - set(TEXTS) - {"drill", "finding", "idea"}
    if unknown:
        raise ValueError(
            f"fields must be among {sorted(TEXTS)}, drill, finding and idea, not {sorted(unknown)}"
        )
    changes: dict[str, Any] = {
        name: text_for(Review, name, fields[name], label=label)
        for name, label in TEXTS.items()
        if name in fields
    }
    if "drill" in fields:
        changes["drill"] = _drill(fields["drill"], by)
    return changes


def _drill(drill: Drill | None, by: User) -> Drill | None:
    if drill is None or Drill.objects.visible_to(by).filter(pk=drill.pk).exists():
        return drill
    raise RuleBroken("drill", "That drill is not in this camp's library. Choose another one.")
