from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage

from coachhub.camps.enums import MemberState
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.videos.domain import clips, files
from coachhub.videos.domain.clips import (
    add_clip,
    allow_refused_clip,
    mark_playable,
    refuse_clip,
    settle_clip,
    shown_name,
)
from coachhub.videos.enums import ClipState, SubmissionState
from coachhub.videos.models import Clip, ClipJob, Submission
from tests import factories
from tests.coachhub.videos.conftest import Queue
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

FACTS = clips.Facts(
    duration_s=2.5, fps=60.0, frame_count=150, width=720, height=1280, codec="h264", has_audio=False
)


def add(submission: Submission, file: Path, **given: Any) -> Clip:
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    defaults = {
        "view": "dtl",
        "source_path": file,
        "size": file.stat().st_size,
        "sha256": digest,
        "file_name": "IMG_1.MOV",
        "by": submission.student,
        "now": NOW,
    }
    return add_clip(submission, **defaults | given)


def test_a_file_becomes_a_clip_that_waits_for_its_check(
    submission: Submission, file: Path, queue: Queue, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        clip = add(submission, file)
    assert (clip.number, clip.state, clip.view, clip.size) == (1, ClipState.RECEIVED, "dtl", 5000)
    with default_storage.open(clip.original_key) as stored:
        assert stored.read() == b"swing" * 1000
    job = ClipJob.objects.get(clip=clip)
    assert (job.work, job.job_state) == ("check", "waiting")
    assert queue == [("videos.check", job.pk)]
    assert Event.objects.filter(verb="clip.received", thing_id=clip.public_id).count() == 1


def test_the_key_says_nothing_about_the_name(submission: Submission, file: Path) -> None:
    clip = add(submission, file, file_name="../../etc/passwd\x00\r\nX: y.mp4")
    assert clip.file_name == "passwdX: y.mp4"
    assert clip.original_key.startswith("originals/")
    assert "passwd" not in clip.original_key


@pytest.mark.parametrize(
    "name, shown",
    [
        ("swing.mov", "swing.mov"),
        ("C:\\Users\\me\\swing.mov", "swing.mov"),
        ("../..", ""),
        ("\x1b[31mred\x7f.mp4", "[31mred.mp4"),
        ("\u202egpj.mp4", "gpj.mp4"),
        ("ü" * 300, "ü" * 120),
    ],
)
def test_names_are_labels(name: str, shown: str) -> None:
    assert shown_name(name) == shown


def test_the_same_video_twice_is_said(submission: Submission, file: Path) -> None:
    add(submission, file)
    with pytest.raises(RuleBroken, match="the same video as clip 1"):
        add(submission, file)
    assert submission.clips.count() == 1


def test_a_seventh_clip_is_refused(submission: Submission, file: Path) -> None:
    for _ in range(6):
        factories.make_clip(submission)
    with pytest.raises(RuleBroken, match="holds 6 clips"):
        add(submission, file)


def test_a_clip_after_the_answer_is_refused(submission: Submission, file: Path) -> None:
    Submission.objects.filter(pk=submission.pk).update(state=SubmissionState.ANSWERED)
    with pytest.raises(RuleBroken, match="takes no more clips"):
        add(submission, file)


def test_a_paused_student_adds_nothing(submission: Submission, file: Path) -> None:
    Membership.objects.filter(user=submission.student).update(state=MemberState.PAUSED)
    with pytest.raises(RuleBroken, match="paused"):
        add(submission, file)


def test_nobody_adds_to_anothers_submission(submission: Submission, file: Path) -> None:
    with pytest.raises(RuleBroken, match="Only the student"):
        add(submission, file, by=factories.make_user())


def test_a_failing_database_leaves_the_file_and_no_orphan(
    submission: Submission, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept: list[str] = []

    def remember(path: Path, key: str) -> None:
        kept.append(key)
        files.keep_file(path, key)

    def fail(*args: object, **kwargs: object) -> None:
        raise OSError("the database is gone")

    monkeypatch.setattr(clips, "keep_file", remember)
    monkeypatch.setattr(clips, "record", fail)
    with pytest.raises(OSError, match="database is gone"):
        add(submission, file)
    assert file.exists()
    assert not default_storage.exists(kept[0])
    assert not Clip.objects.exists()


def test_a_playable_clip_is_measured_first_and_rendered_beside(
    submission: Submission, file: Path, queue: Queue, django_capture_on_commit_callbacks: Any
) -> None:
    clip = add(submission, file)
    with django_capture_on_commit_callbacks(execute=True):
        assert mark_playable(clip, FACTS, now=NOW)
        assert not mark_playable(clip, FACTS, now=NOW), "twice is once"
    assert [name for name, _ in queue] == ["swings.measure", "videos.make_rendition"]
    clip.refresh_from_db()
    assert (clip.state, clip.frame_count, clip.width) == (ClipState.PLAYABLE, 150, 720)


def test_settling_twice_settles_once(submission: Submission) -> None:
    clip = factories.make_clip(
        submission, state=ClipState.PLAYABLE, warnings=[{"code": "a", "sentence": "A."}]
    )
    more = [{"code": "a", "sentence": "A."}, {"code": "dark", "sentence": "It is dark."}]
    assert settle_clip(clip, usable=True, warnings=more, now=NOW)
    assert not settle_clip(clip, usable=False, code="no_golfer", text="Nobody.", now=NOW)
    clip.refresh_from_db()
    assert clip.state == ClipState.USABLE
    assert [warning["code"] for warning in clip.warnings] == ["a", "dark"]


def test_the_last_refusal_asks_for_filming_again(submission: Submission) -> None:
    Submission.objects.filter(pk=submission.pk).update(state=SubmissionState.SENT, sent_at=NOW)
    factories.make_review(submission, state="expected", due_at=None)
    clip = factories.make_clip(submission, state=ClipState.RECEIVED)
    assert refuse_clip(clip, code="too_long", text="Too long. Trim it.", now=NOW)
    submission.refresh_from_db()
    assert submission.state == SubmissionState.REFILM
    clip.refresh_from_db()
    assert (clip.refused_code, clip.refused_text) == ("too_long", "Too long. Trim it.")


def test_a_new_clip_takes_up_a_refused_submission(submission: Submission, file: Path) -> None:
    Submission.objects.filter(pk=submission.pk).update(
        state=SubmissionState.REFILM, sent_at=NOW, settled_at=NOW
    )
    factories.make_review(submission, state="expected", due_at=None)
    factories.make_clip(submission, state=ClipState.REFUSED)
    clip = add(submission, file)
    submission.refresh_from_db()
    assert (clip.number, submission.state) == (2, SubmissionState.SENT)


def test_a_coach_may_look_at_a_refused_clip_if_it_plays(submission: Submission) -> None:
    coach = factories.make_user()
    broken = factories.make_clip(submission, state=ClipState.REFUSED, frame_count=None)
    with pytest.raises(RuleBroken, match="can't be played"):
        allow_refused_clip(broken, by=coach, now=NOW)
    dark = factories.make_clip(submission, state=ClipState.REFUSED, refused_code="dark", refused_text="Dark.")
    assert allow_refused_clip(dark, by=coach, now=NOW)
    assert not allow_refused_clip(dark, by=coach, now=NOW)
    dark.refresh_from_db()
    assert (dark.state, dark.refused_text) == (ClipState.USABLE, "")
