"""The mail that says an answer is there. Nothing personal stands in it: mail is read on lock screens."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta
from urllib.parse import urljoin

from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse

from coachhub.accounts.domain.guardians import guardians_of
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review

log = logging.getLogger(__name__)
# After this the answer is no news any more.
WORTH_TELLING = timedelta(days=3)
LATE = timedelta(minutes=2)


def send_answer_mail(review_id: int, *, now: datetime) -> bool:
    """Tell the student once. False: it was told before, or there is nothing to tell."""
    unsent = Review.objects.filter(pk=review_id, state=ReviewState.PUBLISHED, mailed_at=None)
    if not unsent.update(mailed_at=now):
        return False
    review = Review.objects.select_related("submission__student").get(pk=review_id)
    try:
        _send(review)
    except OSError:
        # The mail server is away: not told yet; the sweep tries again.
        Review.objects.filter(pk=review_id).update(mailed_at=None)
        log.warning("no mail for review %s: the mail server does not answer", review.public_id)
        return False
    return True


def _send(review: Review) -> None:
    student = review.submission.student
    subject = f"{settings.SITE_NAME}: your coach has answered"
    _letter(review, student.email, subject, "student:answer", "mail/answer.txt")
    # Whoever reads along is told too: nothing reaches a minor that no guardian knows of.
    for guardian in guardians_of(student):
        subject = f"{settings.SITE_NAME}: a coach has answered"
        _letter(review, guardian.email, subject, "guardian:answer", "mail/answer_guardian.txt")


def _letter(review: Review, to: str, subject: str, page: str, template: str) -> None:
    address = reverse(page, kwargs={"public_id": review.public_id})
    context = {"link": urljoin(settings.SITE_URL + "/", address.lstrip("/")), "site": settings.SITE_NAME}
    send_mail(
        subject=subject,
        message=render_to_string(template, context),
        from_email=None,
        recipient_list=[to],
    )


def untold(now: datetime) -> list[int]:
    """Answers whose mail got lost on the way."""
    published = Review.objects.filter(
        state=ReviewState.PUBLISHED,
        mailed_at=None,
        published_at__gt=now - WORTH_TELLING,
        published_at__lt=now - LATE,
    )
    return list(published.values_list("pk", flat=True)[:200])
