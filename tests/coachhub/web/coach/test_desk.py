from __future__ import annotations

import json
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.feedback.domain.reviews import claim_review
from coachhub.feedback.models import Explanation, Finding, Mark, Message, Review, VoiceNote
from coachhub.swings.models import SignJudgement, Swing
from tests import factories

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

JSON = {"HTTP_ACCEPT": "application/json"}


class Scene:
    def __init__(self, **intake: Any) -> None:
        self.cohort = factories.make_cohort()
        self.coach = factories.make_user("Ada Coach")
        factories.join(self.coach, self.cohort, Role.COACH)
        self.student = factories.make_student(self.cohort, "Tomi Aalto", **intake)
        self.submission = factories.make_submission(self.student, self.cohort)
        self.clip = factories.make_clip(self.submission)
        self.swing = factories.make_swing(self.clip, signs={"early_release": "likely"})
        review = factories.make_review(self.submission, due_at=timezone.now() + timedelta(hours=40))
        self.review = claim_review(review, by=self.coach, now=timezone.now())

    def client(self, user: User | None = None) -> Client:
        client = Client()
        client.force_login(user or self.coach)
        return client

    def url(self, tail: str = "") -> str:
        return f"/coach/desk/{self.review.public_id}/{tail}"

    def fields(self, **more: Any) -> dict[str, Any]:
        self.review.refresh_from_db()
        return {"revision": self.review.revision, "priority": "turf first", "keep": "the tempo"} | more


@pytest.fixture
def scene() -> Scene:
    return Scene()


def test_the_desk_shows_what_the_coach_must_know(scene: Scene) -> None:
    page = scene.client().get(scene.url()).content.decode()
    for words in (
        "Tomi Aalto",
        "starts left, flies straight",
        "help the ball up into the air",
        "right-handed",
    ):
        assert words in page
    for words in (
        "Early release",
        "likely, about 8 in 10",
        "Tempo",
        "2.7 ± 0.4",
        "One phone does not see",
    ):
        assert words in page


def test_pain_stands_above_everything() -> None:
    scene = Scene(pain="now", pain_sites=["low_back"], pain_words="since spring", red_flags=["numb"])
    factories.make_drill("d", sign="early_release", name="Two dips")
    page = scene.client().get(scene.url()).content.decode()
    assert "Pain alert: numbness" in page
    assert "since spring" in page
    assert page.index("Pain alert") < page.index("desk-columns")
    assert "Two dips" not in page


def test_a_draft_is_kept_with_its_finding_and_drill(scene: Scene) -> None:
    drill = factories.make_drill("d", sign="early_release", name="Two dips")
    sent = scene.fields(
        drill=str(drill.public_id),
        dose="3 × 6",
        miss="starts left",
        root_kind="idea",
        root_node="bel_lift",
        confidence="likely",
    )
    answer = scene.client().post(scene.url("answer/"), sent, **JSON)
    assert answer.json() == {"revision": 1}
    scene.review.refresh_from_db()
    assert (scene.review.priority, scene.review.keep, scene.review.drill) == (
        "turf first",
        "the tempo",
        drill,
    )
    finding = Finding.objects.get(review=scene.review)
    assert (finding.miss, finding.root_kind, finding.root_node) == ("starts left", "idea", "bel_lift")


def test_an_older_page_is_told_and_changes_nothing(scene: Scene) -> None:
    sent = scene.fields()
    scene.client().post(scene.url("answer/"), sent, **JSON)
    late = scene.client().post(scene.url("answer/"), sent | {"priority": "older words"}, **JSON)
    assert (late.status_code, late.json()["code"]) == (409, "stale")
    scene.review.refresh_from_db()
    assert scene.review.priority == "turf first"


def test_too_long_words_come_back_as_a_sentence(scene: Scene) -> None:
    answer = scene.client().post(scene.url("answer/"), scene.fields(priority="x" * 301), **JSON)
    assert answer.status_code == 400
    assert "301" in answer.json()["sentence"]


def test_drawings_and_answer_share_one_revision(scene: Scene) -> None:
    mark = {"uid": str(uuid.uuid4()), "swing": str(scene.swing.public_id), "kind": "line"}
    mark |= {"points": [[0, 0], [1, 1]], "from_us": 0, "to_us": 10, "label": "", "note": ""}
    body = {"revision": 0, "marks": [mark], "moments": []}
    client = scene.client()
    first = client.post(scene.url("marks/"), json.dumps(body), "application/json", **JSON)
    assert first.json() == {"revision": 1}
    again = client.post(scene.url("marks/"), json.dumps(body), "application/json", **JSON)
    assert again.status_code == 409
    page = client.get(scene.url())
    assert [one["uid"] for one in page.context["player"]["marks"]] == [mark["uid"]]
    assert Mark.objects.count() == 1


@pytest.mark.parametrize(
    "body",
    [
        "",
        "[]",
        '{"revision": 0}',
        '{"revision": -1, "marks": [], "moments": []}',
        '{"revision": 0, "marks": [1]}',
        pytest.param("[" * 100_000, id="nested without end"),
    ],
)
def test_broken_drawings_are_refused(scene: Scene, body: str) -> None:
    answer = scene.client().post(scene.url("marks/"), body, "application/json", **JSON)
    assert (answer.status_code, answer.json()["code"]) == (400, "form")


def test_a_verdict_is_kept_and_shown_and_another_coach_sees_both(scene: Scene) -> None:
    sent = {"swing": scene.swing.public_id, "sign": "early_release", "verdict": "not_this", "at_s": "1.25"}
    answer = scene.client().post(scene.url("judge/"), sent, **JSON)
    judged = SignJudgement.objects.get()
    assert (judged.sign, judged.verdict, judged.at_s, judged.by) == (
        "early_release",
        "not_this",
        1.25,
        scene.coach,
    )
    assert 'value="not_this" aria-pressed="true"' in answer.json()["html"]
    other = factories.make_user("Bo Coach")
    factories.join(other, scene.cohort, Role.COACH)
    assert "Ada Coach: not this" in scene.client(other).get(scene.url()).content.decode()


def test_a_sign_that_was_not_flagged_can_be_set(scene: Scene) -> None:
    sent = {"swing": scene.swing.public_id, "sign": "sway", "verdict": "agree"}
    scene.client().post(scene.url("judge/"), sent, **JSON)
    assert SignJudgement.objects.get().sign == "sway"


def test_a_verdict_given_outside_the_swing_has_no_frame(scene: Scene) -> None:
    sent = {"swing": scene.swing.public_id, "sign": "sway", "verdict": "agree", "at_s": "0.05"}
    assert scene.client().post(scene.url("judge/"), sent, **JSON).status_code == 200
    assert SignJudgement.objects.get().at_s is None


def test_a_verdict_without_holding_the_review_is_refused(scene: Scene) -> None:
    other = factories.make_user("Bo Coach")
    factories.join(other, scene.cohort, Role.COACH)
    sent = {"swing": scene.swing.public_id, "sign": "sway", "verdict": "agree"}
    answer = scene.client(other).post(scene.url("judge/"), sent, **JSON)
    assert "Ada Coach is reviewing" in answer.json()["sentence"]
    assert not SignJudgement.objects.exists()


def test_another_submissions_swing_is_not_found(scene: Scene) -> None:
    foreign = factories.make_swing(
        factories.make_clip(factories.make_submission(scene.student, scene.cohort))
    )
    sent = {"swing": foreign.public_id, "sign": "sway", "verdict": "agree"}
    assert scene.client().post(scene.url("judge/"), sent, **JSON).status_code == 404


def test_publishing_is_looked_over_first_and_happens_once(scene: Scene) -> None:
    client = scene.client()
    looked = client.post(scene.url("answer/"), scene.fields(do="check"), follow=True)
    page = looked.content.decode()
    assert "turf first" in page
    assert "the tempo" in page
    scene.review.refresh_from_db()
    sent = {"revision": scene.review.revision, "then": "queue"}
    for _ in range(2):
        assert client.post(scene.url("publish/"), sent).status_code == 302
    scene.review.refresh_from_db()
    assert scene.review.state == "published"
    assert Message.objects.filter(review=scene.review).count() == 1
    assert "Published" in client.get(scene.url()).content.decode()


def test_what_changed_after_the_last_look_does_not_go_out(scene: Scene) -> None:
    client = scene.client()
    client.post(scene.url("answer/"), scene.fields())
    client.post(scene.url("answer/"), scene.fields(priority="something else"))
    answer = client.post(scene.url("publish/"), {"revision": 1})
    assert answer.status_code == 302
    scene.review.refresh_from_db()
    assert scene.review.state == "claimed"


def test_publish_and_take_the_next(scene: Scene) -> None:
    later = factories.make_review(
        factories.make_submission(scene.student, scene.cohort), due_at=timezone.now() + timedelta(hours=90)
    )
    sooner = factories.make_review(
        factories.make_submission(scene.student, scene.cohort), due_at=timezone.now() + timedelta(hours=50)
    )
    client = scene.client()
    client.post(scene.url("answer/"), scene.fields())
    answer = client.post(scene.url("publish/"), {"revision": 1, "then": "next"})
    assert answer["Location"] == f"/coach/desk/{sooner.public_id}/"
    sooner.refresh_from_db()
    later.refresh_from_db()
    assert (sooner.claimed_by, later.state) == (scene.coach, "waiting")


def test_last_time_is_beside_it(scene: Scene) -> None:
    before = factories.make_submission(scene.student, scene.cohort, state="answered")
    old = factories.make_review(
        before,
        state="published",
        published_at=factories.NOW,
        published_by=scene.coach,
        priority="brush the turf",
    )
    Finding.objects.create(review=old, miss="starts left", root="the idea of lifting", confidence="guess")
    page = scene.client().get(scene.url()).content.decode()
    for words in ("Last time", "still so?", "brush the turf", "the idea of lifting", "a first guess"):
        assert words in page


def test_a_clip_that_was_not_measured_is_on_the_desk_too(scene: Scene) -> None:
    said = [{"code": "not_measured", "sentence": "This clip could not be measured."}]
    clip = factories.make_clip(scene.submission, view="dtl", warnings=said)
    page = scene.client().get(scene.url())
    ids = [one["id"] for one in page.context["player"]["swings"]]
    assert ids == [str(scene.swing.public_id), str(clip.public_id)]
    assert "This clip could not be measured." in page.content.decode()


def test_a_sound_file_can_be_added_without_script_and_put_into_words(scene: Scene) -> None:
    sound = SimpleUploadedFile("../../etc/passwd.webm", b"\x1a\x45\xdf\xa3 bytes", "audio/webm")
    client = scene.client()
    answer = client.post(
        scene.url("voice/"), {"recording": sound, "swing": scene.swing.public_id, "at_us": 5}
    )
    assert answer.status_code == 302
    note = VoiceNote.objects.get()
    assert (note.swing, note.at_us) == (scene.swing, 5)
    assert note.source_key.startswith("voice/recorded/")
    assert "passwd" not in note.source_key
    client.post(scene.url(f"voice/{note.public_id}/"), {"caption": "slow back"})
    note.refresh_from_db()
    assert note.caption == "slow back"
    removed = client.post(scene.url(f"voice/{note.public_id}/"), {"do": "remove"}, **JSON)
    assert removed.json()["waiting"] is False
    assert not VoiceNote.objects.exists()


def test_a_kept_explanation_is_put_in_without_script(scene: Scene) -> None:
    note = VoiceNote.objects.create(
        review=scene.review,
        audio_key=default_storage.save("voice/playable/x.m4a", ContentFile(b"sound")),
        caption="turf after the ball",
        duration_ms=900,
        job_state="done",
        queued_at=factories.NOW,
        created_at=factories.NOW,
    )
    client = scene.client()
    client.post(scene.url(f"voice/{note.public_id}/"), {"do": "keep", "title": "Low point"})
    kept = Explanation.objects.get()
    assert "Low point" in client.get(scene.url()).content.decode()
    place = {"swing": scene.swing.public_id, "at_us": 9}
    client.post(scene.url(f"explanations/{kept.public_id}/"), {"do": "use", **place})
    put = VoiceNote.objects.latest("pk")
    assert (put.swing, put.at_us, put.caption) == (scene.swing, 9, "turf after the ball")
    other = Scene()
    reach = other.client().post(other.url(f"explanations/{kept.public_id}/"), {"do": "use"})
    assert reach.status_code == 404


def test_what_the_coach_says_often_is_within_reach(scene: Scene) -> None:
    for _ in range(2):
        submission = factories.make_submission(factories.make_student(scene.cohort, "Ex Ample"), scene.cohort)
        said = {"priority": "turf first", "words": "Breathe out before you start."}
        done = {"state": "published", "published_by": scene.coach, "published_at": timezone.now()}
        factories.make_review(submission, **said, **done)
    page = scene.client().get(scene.url()).content.decode()
    assert '<datalist id="phrases-priority"><option value="turf first"></option></datalist>' in page
    assert 'list="phrases-priority"' in page
    assert 'data-phrase="Breathe out before you start."' in page


def test_a_note_of_another_review_is_out_of_reach(scene: Scene) -> None:
    other = Scene()
    note = VoiceNote.objects.create(
        review=other.review, source_key="k", queued_at=factories.NOW, created_at=factories.NOW
    )
    answer = scene.client().post(scene.url(f"voice/{note.public_id}/"), {"do": "remove"})
    assert answer.status_code == 404
    assert VoiceNote.objects.filter(pk=note.pk).exists()


def queries(scene: Scene) -> int:
    client = scene.client()
    with CaptureQueriesContext(
        connection,
    ) as seen:
        client.get(scene.url())
    return len(seen)


def test_more_swings_cost_no_more_queries(scene: Scene) -> None:
    # The first look in an hour is written down.
    queries(scene)
    few = queries(scene)
    for _ in range(2):
        clip = factories.make_clip(scene.submission)
        for _ in range(2):
            factories.make_swing(clip, signs={"sway": "possible"})
    assert Swing.objects.count() == 5
    assert queries(scene) == few


def test_the_pages_of_a_dropped_and_of_a_coming_review(scene: Scene) -> None:
    Review.objects.filter(pk=scene.review.pk).update(state="dropped")
    assert "took this submission back" in scene.client().get(scene.url()).content.decode()
    Review.objects.filter(pk=scene.review.pk).update(state="coming")
    assert "still being checked" in scene.client().get(scene.url()).content.decode()
