from __future__ import annotations

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from pytest_django import DjangoCaptureOnCommitCallbacks

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain import explanations
from coachhub.feedback.domain.reviews import claim_review
from coachhub.feedback.domain.voice import MOST_NOTES, remove_voice_note
from coachhub.feedback.models import Explanation, Review, VoiceNote
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.unit]


@pytest.fixture
def coach() -> User:
    return factories.make_user("Ada Coach")


@pytest.fixture
def review(coach: User) -> Review:
    cohort = factories.make_cohort()
    factories.join(coach, cohort, Role.COACH)
    submission = factories.make_submission(factories.make_student(cohort), cohort)
    return claim_review(factories.make_review(submission), by=coach, now=NOW)


def noted(review: Review, **fields: object) -> VoiceNote:
    key = default_storage.save("voice/playable/one.m4a", ContentFile(b"sound of it"))
    given = {"audio_key": key, "duration_ms": 4200, "caption": "the low point", "job_state": "done"} | fields
    return VoiceNote.objects.create(review=review, queued_at=NOW, created_at=NOW, **given)


def keep(note: VoiceNote, coach: User, title: str = "Low point") -> Explanation:
    return explanations.keep_explanation(note, title, caption=note.caption, by=coach, now=NOW)


def test_an_explanation_outlives_its_note_and_lies_in_another_answer_as_a_copy(
    review: Review, coach: User, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    note = noted(review)
    kept = keep(note, coach)
    with django_capture_on_commit_callbacks(execute=True):
        remove_voice_note(note, by=coach, now=NOW)
    put = explanations.put_in(kept, review, swing=None, at_us=7, by=coach, now=NOW)
    assert (put.caption, put.duration_ms, put.at_us, put.job_state) == ("the low point", 4200, 7, "done")
    assert put.audio_key not in (kept.audio_key, note.audio_key)
    with django_capture_on_commit_callbacks(execute=True):
        explanations.forget_explanation(kept, by=coach, now=NOW)
    assert not default_storage.exists(kept.audio_key)
    with default_storage.open(put.audio_key) as stored:
        assert stored.read() == b"sound of it"


def test_the_most_used_comes_first(review: Review, coach: User) -> None:
    first, second = keep(noted(review), coach, "A"), keep(noted(review), coach, "B")
    explanations.put_in(second, review, swing=None, at_us=0, by=coach, now=NOW)
    assert list(Explanation.objects.visible_to(coach)) == [second, first]


def test_it_is_the_coachs_own(review: Review, coach: User) -> None:
    other = factories.make_user()
    factories.join(other, review.submission.cohort, Role.COACH)
    note = noted(review)
    with pytest.raises(RuleBroken, match="who recorded it"):
        keep(note, other)
    kept = keep(note, coach)
    assert not Explanation.objects.visible_to(other).exists()
    with pytest.raises(RuleBroken, match="is reviewing this one"):
        explanations.put_in(kept, review, swing=None, at_us=0, by=other, now=NOW)
    with pytest.raises(RuleBroken, match="who kept it"):
        explanations.forget_explanation(kept, by=other, now=NOW)


def test_what_can_t_be_kept_is_said(review: Review, coach: User) -> None:
    with pytest.raises(RuleBroken, match="still being prepared"):
        keep(noted(review, job_state="running"), coach)
    note = noted(review)
    with pytest.raises(RuleBroken, match="title"):
        keep(note, coach, "  ")
    kept = keep(note, coach)
    with pytest.raises(RuleBroken, match="already"):
        keep(note, coach)
    while VoiceNote.objects.count() < MOST_NOTES:
        noted(review)
    with pytest.raises(RuleBroken, match=f"at most {MOST_NOTES} recordings"):
        explanations.put_in(kept, review, swing=None, at_us=0, by=coach, now=NOW)
