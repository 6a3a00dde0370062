"""The verbs of a review in one place: arriving, being taken, written, published, opened."""

from __future__ import annotations

from coachhub.feedback.domain.arrivals import drop_review, expect_review, submission_settled
from coachhub.feedback.domain.claims import claim_review, defer_review, hand_over, release_review
from coachhub.feedback.domain.drafts import save_draft
from coachhub.feedback.domain.health import health_changed
from coachhub.feedback.domain.publishing import mark_opened, publish_review, settle_reply
from coachhub.feedback.domain.questions import ask_student

__all__ = [
    "ask_student",
    "claim_review",
    "defer_review",
    "drop_review",
    "expect_review",
    "hand_over",
    "health_changed",
    "mark_opened",
    "publish_review",
    "release_review",
    "save_draft",
    "settle_reply",
    "submission_settled",
]
