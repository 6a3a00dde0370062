"""Talks from the first take to the film: kept once, joined, pinned, given up, forgotten."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.enums import JobState
from coachhub.feedback.domain import talk_films, talk_takes, talks
from coachhub.feedback.domain.captions import as_webvtt, cues_of
from coachhub.feedback.domain.reviews import claim_review
from coachhub.feedback.domain.talk_script import checked_script, joined, length_of
from coachhub.feedback.models import Review, TalkFilm, TalkTake, TalkThrough
from coachhub.feedback.tasks import film_talk, join_talk
from coachhub.swings.models import Readout, Swing
from tests import factories
from tests.analysis.adapters.test_talk import take as recorded
from tests.e2e.clips import give_picture
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.integration]
CASES = json.loads((Path(__file__).parents[2] / "js" / "talk_cases.json").read_text())


@pytest.fixture
def coach() -> User:
    return factories.make_user("Ada Coach")


@pytest.fixture
def review(coach: User) -> Review:
    cohort = factories.make_cohort()
    factories.join(coach, cohort, Role.COACH)
    submission = factories.make_submission(factories.make_student(cohort), cohort)
    factories.make_swing(factories.make_clip(submission))
    return claim_review(factories.make_review(submission), by=coach, now=NOW)


@pytest.fixture
def swing(review: Review) -> Swing:
    return Swing.objects.get(clip__submission=review.submission)


def take_of(review: Review, talk_id: UUID, number: int, sound: bytes = b"sound") -> TalkTake:
    key = default_storage.save(f"talks/recorded/{uuid.uuid4().hex}", ContentFile(sound))
    return TalkTake.objects.create(
        review=review, talk_id=talk_id, number=number, source_key=key, size=len(sound), created_at=NOW
    )


def script_of(shown: Swing, cuts: list[list[int]] | None = None, **changes: Any) -> dict[str, Any]:
    place = {"take": 1, "ms": 0, "kind": "place", "swing": str(shown.public_id), "us": 500_000, "rate": 0.25}
    return {"cuts": cuts or [[1, 0, 900]], "events": [{**place, **changes}]}


@pytest.mark.parametrize("case", CASES["joins"], ids=lambda case: case["name"])
def test_parts_are_joined_into_one_time_line(case: dict[str, Any]) -> None:
    line = joined({"cuts": [tuple(cut) for cut in case["cuts"]], "events": case["events"]})
    assert line["duration_ms"] == case["duration_ms"]
    begins = dict.fromkeys(event["ms"] for event in line["events"] if event["kind"] == "clear")
    starts = [
        [e["ms"], e["swing"], e["us"], e["rate"]]
        for e in line["events"]
        if e["kind"] == "place" and e["ms"] in begins
    ]
    assert starts == case["starts"]
    assert [[e["ms"], e["kind"]] for e in line["events"] if e["ms"] not in begins] == case["later"]
    assert [e["ms"] for e in line["events"]] == sorted(e["ms"] for e in line["events"])


def test_a_talk_is_kept_once_and_pinned_to_what_was_on_screen(
    review: Review, swing: Swing, coach: User
) -> None:
    talk_id = uuid.uuid4()
    take_of(review, talk_id, 1)
    kept = talks.keep_talk(review, talk_id, script_of(swing), by=coach, now=NOW)
    again = talks.keep_talk(review, talk_id, script_of(swing, us=0), by=coach, now=NOW)
    readout = Readout.objects.get(swing=swing)
    assert again.pk == kept.pk
    assert kept.pins == {"swings": {str(swing.public_id): str(readout.public_id)}, "beside": {}}


def test_a_talk_keeps_how_a_line_was_drawn(swing: Swing) -> None:
    drawn = {"uid": str(uuid.uuid4()), "swing": str(swing.public_id), "kind": "line"}
    drawn |= {"points": [[0.1, 0.1], [0.2, 0.2]], "from_us": 0, "to_us": 9}
    event = {"take": 1, "ms": 0, "kind": "put", "mark": drawn | {"weight": "strong", "is_dashed": True}}
    script = checked_script({"cuts": [[1, 0, 900]], "events": [event]}, [str(swing.public_id)])
    kept = script["events"][0]["mark"]
    assert (kept["weight"], kept["is_dashed"]) == ("strong", True)
    event["mark"]["weight"] = "huge"
    with pytest.raises(RuleBroken):
        checked_script({"cuts": [[1, 0, 900]], "events": [event]}, [str(swing.public_id)])


def test_a_talk_waits_for_all_its_takes(review: Review, swing: Swing, coach: User) -> None:
    talk_id = uuid.uuid4()
    take_of(review, talk_id, 1)
    with pytest.raises(RuleBroken, match="still on its way"):
        talks.keep_talk(review, talk_id, script_of(swing, [[1, 0, 900], [2, 0, 900]]), by=coach, now=NOW)
    assert not TalkThrough.objects.exists()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"kind": "juggle"}, "broken"),
        ({"us": -1}, "broken"),
        ({"us": True}, "broken"),
        ({"rate": 9}, "broken"),
        ({"rate": None}, "broken"),
        ({"ms": 1.5}, "broken"),
        ({"take": 0}, "broken"),
        ({"swing": str(uuid.uuid4())}, "not of this submission"),
    ],
)
def test_what_can_t_be_replayed_is_refused(
    review: Review, swing: Swing, coach: User, change: dict[str, Any], sentence: str
) -> None:
    talk_id = uuid.uuid4()
    take_of(review, talk_id, 1)
    with pytest.raises(RuleBroken, match=sentence):
        talks.keep_talk(review, talk_id, script_of(swing, **change), by=coach, now=NOW)


@pytest.mark.parametrize(
    "cuts", [None, {}, [[1, 0]], [[1, 5, 5]], [[0, 0, 900]], [[1, 0, "9"]], [[1, 0, 900]] * 99]
)
def test_cuts_that_make_no_sense_are_refused(cuts: Any) -> None:
    with pytest.raises(RuleBroken):
        checked_script({"cuts": cuts, "events": []}, [])


@pytest.mark.parametrize(
    "script", [None, [], 7, {"cuts": [[1, 0, 900]]}, {"cuts": [[1, 0, 900]], "events": [1]}]
)
def test_no_script_at_all_is_refused(script: Any) -> None:
    with pytest.raises(RuleBroken):
        checked_script(script, [])


def test_a_talk_has_a_shortest_and_a_longest_length() -> None:
    with pytest.raises(RuleBroken, match="Nothing was said"):
        checked_script({"cuts": [[1, 0, 100]], "events": []}, [])
    with pytest.raises(RuleBroken, match="ten minutes"):
        checked_script({"cuts": [[1, 0, 600_000], [2, 0, 1000]], "events": []}, [])
    assert length_of([(1, 0, 400), (2, 100, 300)]) == 600


def test_only_who_holds_the_review_sends_takes(review: Review, coach: User) -> None:
    other = factories.make_user()
    with pytest.raises(RuleBroken, match="unknown"):
        talk_takes.refuse_unless_open(review.public_id, 1, 10, by=other)
    with pytest.raises(RuleBroken, match="too long"):
        talk_takes.refuse_unless_open(review.public_id, 1, talk_takes.MOST_BYTES + 1, by=coach)
    with pytest.raises(RuleBroken, match="at most"):
        talk_takes.refuse_unless_open(review.public_id, 99, 10, by=coach)
    assert talk_takes.refuse_unless_open(review.public_id, 1, 10, by=coach) == review


def test_the_worker_joins_takes_and_films_the_talk(
    review: Review,
    swing: Swing,
    coach: User,
    settings: Settings,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    settings.CELERY_TASK_ALWAYS_EAGER = True
    give_picture(swing.clip, count=120)
    talk_id = uuid.uuid4()
    take_of(review, talk_id, 1, Path(recorded(tmp_path / "1.webm", 0.3, (0.5,), 1.5)).read_bytes())
    with django_capture_on_commit_callbacks(execute=False):
        talk = talks.keep_talk(review, talk_id, script_of(swing, [[1, 0, 1400]]), by=coach, now=NOW)
    with pytest.raises(RuleBroken, match="still being prepared"):
        talk_films.order_film(talk, by=coach, now=NOW)
    join_talk(talk.pk)
    talk.refresh_from_db()
    assert talk.job_state == JobState.DONE
    assert talk.duration_ms == 1400
    assert talk.timeline["zeros"]["1"] == pytest.approx(0.3, abs=0.01)
    with django_capture_on_commit_callbacks(execute=False):
        film = talk_films.order_film(talk, by=coach, now=NOW)
        assert talk_films.order_film(talk, by=coach, now=NOW).pk == film.pk
    film_talk(film.pk)
    film.refresh_from_db()
    assert (film.job_state, film.percent) == (JobState.DONE, 100)
    assert default_storage.size(film.film_key) == film.size > 1000
    keys = [talk.audio_key, film.film_key, TalkTake.objects.get().source_key]
    with django_capture_on_commit_callbacks(execute=True):
        talks.remove_talk(talk, by=coach, now=NOW)
    assert not any(default_storage.exists(key) for key in keys)
    assert not TalkFilm.objects.exists() and not TalkTake.objects.exists()


def test_what_is_no_sound_fails_with_a_sentence(review: Review, swing: Swing, coach: User) -> None:
    talk_id = uuid.uuid4()
    take_of(review, talk_id, 1, b"no sound at all" * 100)
    talk = talks.keep_talk(review, talk_id, script_of(swing), by=coach, now=NOW)
    join_talk(talk.pk)
    talk.refresh_from_db()
    assert talk.job_state == JobState.FAILED
    assert "can't be read" in talk.error_text


def test_takes_without_a_talk_are_forgotten_in_time(review: Review, swing: Swing, coach: User) -> None:
    kept, lost = uuid.uuid4(), uuid.uuid4()
    take_of(review, kept, 1)
    take_of(review, lost, 1)
    talks.keep_talk(review, kept, script_of(swing), by=coach, now=NOW)
    assert talk_takes.drop_forgotten(NOW + timedelta(days=13)) == 0
    assert talk_takes.drop_forgotten(NOW + timedelta(days=15)) == 1
    assert list(TalkTake.objects.values_list("talk_id", flat=True)) == [kept]


def test_words_become_webvtt() -> None:
    """W3C WebVTT: header, blank line, cues as `HH:MM:SS.mmm --> HH:MM:SS.mmm`; & and < are escaped in cue text."""
    text = as_webvtt("Look at the wrist. Here & <now>!", 8000)
    lines = text.split("\n")
    assert lines[:2] == ["WEBVTT", ""]
    assert lines[2].startswith("00:00:00.000 --> 00:00:0")
    assert lines[-3].endswith("--> 00:00:08.000")
    assert "Here &amp; &lt;now&gt;!" in text
    assert "-->" not in as_webvtt("a --> b", 1000).split("\n")[3]
    assert all(len(cue) <= 90 for cue in cues_of("word " * 200))
    assert cues_of("   ") == []
