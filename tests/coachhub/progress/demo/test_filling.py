"""One student's story for real: a change over two days, checked, measured, answered, practised."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import av
import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.core.management.base import CommandError

from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.enums import JobState
from coachhub.common.models import Event
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Case, ClockEvent, Mark, Message, Moment, Practice, Review
from coachhub.swings.models import AnalysisRun, SignFlag, SignJudgement, Swing
from coachhub.videos.models import Clip, ClipJob, Submission

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.integration,
    pytest.mark.usefixtures("measured_once"),
]
COUNTED = (
    User, Camp, Submission, Clip, ClipJob, AnalysisRun, Swing, SignFlag, SignJudgement, Review, ClockEvent, Mark,
    Moment, Message, Practice, Event, Case,
)  # fmt: skip


def load(*words: str) -> str:
    said = StringIO()
    call_command("load_demo", *words, stdout=said)
    return said.getvalue()


def counts() -> dict[str, int]:
    return {model.__name__: model.objects.count() for model in COUNTED}


def test_a_students_story_is_played_with_real_measurements_and_only_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = load("--measure", "--student", "danuta")
    assert "2 of 2 clips in (Danuta Reyesova)" in said
    first, second = Review.objects.order_by("published_at")
    assert {first.state, second.state} == {ReviewState.PUBLISHED}
    assert_measured()
    assert_dated(first)
    assert_shown_to_the_cohort(Case.objects.get())
    before = counts()
    assert before["Practice"] == 2
    assert load("--measure", "--student", "danuta").endswith("The demo camp is complete.\n")
    assert counts() == before


def assert_shown_to_the_cohort(case: Case) -> None:
    """To the others, and to whom it shows with other words; covered, and without sound."""
    shown = set(case.posts.values_list("student__name", flat=True))
    cohort = case.cohort.memberships.filter(role="student").values_list("user__name", flat=True)
    assert case.state == "posted" and shown == set(cohort) and len(shown) == 5
    assert "danuta" not in f"{case.title} {case.words}".casefold()
    with default_storage.open(f"{case.folder_key}/film.mp4") as file, av.open(file) as film:
        assert [stream.type for stream in film.streams] == ["video"]
        assert film.streams.video[0].frames == case.facts["frames"] > 0


def assert_measured() -> None:
    """The clips show a left-hander's sway of .91 and then .39 of the full fault: their truth files say so."""
    assert set(AnalysisRun.objects.values_list("job_state", flat=True)) == {JobState.DONE}
    assert set(ClipJob.objects.values_list("job_state", flat=True)) == {JobState.DONE}
    first, second = Swing.objects.order_by("clip__created_at")
    readings = [swing.readouts.get(is_current=True) for swing in (first, second)]
    assert [reading.data["handedness"] for reading in readings] == ["left", "left"]
    chances = [reading.flags.get(sign="sway").probability for reading in readings]
    assert chances[0] > chances[1]
    assert first.judgements.get(sign="sway").verdict == "agree"
    assert second.judgements.get(sign="sway").verdict == "not_this"
    for clip in Clip.objects.all():
        assert clip.rendition_key and clip.poster_key and clip.index_key


def assert_dated(review: Review) -> None:
    """All of it lies in the story's past, in the order in which it would have happened."""
    submission = review.submission
    sent, settled, published, opened = (
        submission.sent_at, submission.settled_at, review.published_at, review.opened_at,
    )  # fmt: skip
    assert submission.created_at < sent < settled < published < opened
    assert [move.at for move in review.clock.all()] == [settled, published]
    assert timedelta(hours=20) < published - settled < timedelta(hours=24)
    assert submission.range_day == submission.created_at.date()


def test_an_unknown_student_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(CommandError, match="'mirela'"):
        load("--measure", "--student", "nobody")
