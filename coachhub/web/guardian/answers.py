"""A coach's answer as the child reads it, without the child's buttons."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.common.domain.sights import note_sight
from coachhub.feedback.domain.finding import chain
from coachhub.feedback.models import Review, Thread
from coachhub.web.beside import replay_with_kept
from coachhub.web.guardian.access import child_for, guardian_page
from coachhub.web.ideas import chain_stills, idea_of
from coachhub.web.student.labels import miss_words, root_words, submission_label
from coachhub.web.student.pictures import pictures_of_answer
from coachhub.web.talks import talks_of
from coachhub.web.who import person_of


@require_safe
@guardian_page
def answer(request: HttpRequest, public_id: UUID) -> HttpResponse:
    reader, now = person_of(request), timezone.now()
    seen = Review.objects.visible_to(reader).filter(published_at__isnull=False)
    related = ("submission__camp", "submission__student", "drill", "published_by", "finding")
    review = get_object_or_404(seen.select_related(*related), public_id=public_id)
    submission, finding = review.submission, getattr(review, "finding", None)
    found = child_for(request, submission.student.public_id)
    note_sight(review, by=reader, now=now, scope=submission.camp.public_id)
    context = {
        "child": found,
        "review": review,
        "finding": finding,
        "steps": chain(finding),
        "stills": chain_stills(finding, review, reader),
        "idea": idea_of(review, reader),
        "root_kind": root_words(finding.root_kind) if finding else "",
        "label": submission_label(submission),
        "miss": miss_words(submission),
        "pictures": pictures_of_answer(review, reader),
        "replay": replay_with_kept(review, reader),
        "talks": talks_of(review, reader, only_ready=True),
        "practised": list(review.practice.all()[:10]),
        "thread": Thread.objects.filter(student=found, camp=submission.camp).first(),
    }
    return render(request, "guardian/answer.html", context)
