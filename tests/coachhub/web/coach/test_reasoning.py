"""The desk's reasoning without script, and what the script gets."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.feedback.domain.reviews import claim_review, publish_review
from coachhub.feedback.models import Finding, FindingVersion, FindingWord, IdeaChange, Observation, Review
from coachhub.swings.domain.judgements import judge_sign
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
JSON = {"Accept": "application/json"}


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def coach(cast: Cast, client: Client) -> Client:
    client.force_login(cast.coach)
    return client


def held(cast: Cast, **fields: Any) -> Review:
    submission = factories.make_submission(cast.student, cast.cohort, club_class="hybrid", **fields)
    swing = factories.make_swing(factories.make_clip(submission), signs={"early_release": "likely"})
    judge_sign(swing, "early_release", "agree", by=cast.coach, now=NOW)
    return claim_review(factories.make_review(submission), by=cast.coach, now=timezone.now())


def answered(cast: Cast) -> Review:
    review = held(cast)
    Finding.objects.create(
        review=review, mechanism_node="ds_early_release", root_kind="idea", root_node="bel_lift"
    )
    Review.objects.filter(pk=review.pk).update(priority="Turf after the ball")
    return publish_review(review, by=cast.coach, now=NOW)


def desk(review: Review, name: str = "desk", **more: Any) -> str:
    return reverse(f"coach:{name}", kwargs={"public_id": review.public_id, **more})


def shown(client: Client, review: Review) -> str:
    return client.get(desk(review)).content.decode()


def test_at_most_three_suggestions_each_with_why_and_what_would_change_it(cast: Cast, coach: Client) -> None:
    page = shown(coach, held(cast))
    assert page.count('class="path"') == 3
    assert "Why 1, and what would change it" in page and "if so, it stays first" in page
    assert "confirmed by the coach" in page and "never findings" in page


def test_taking_a_suggestion_without_script_fills_finding_and_idea(cast: Cast, coach: Client) -> None:
    review = held(cast)
    coach.post(desk(review, "desk-take-path"), {"root": "bel_lift"})
    finding = Finding.objects.get(review=review)
    assert (finding.root_node, finding.root_kind, finding.taken_root) == ("bel_lift", "idea", "bel_lift")
    assert finding.mechanism_node == "ds_early_release"
    assert "turf after it" in IdeaChange.objects.get(review=review).better_idea
    answer = coach.post(desk(review, "desk-take-path"), {"root": "set_posture_s"}, follow=True)
    assert "not offered any more" in answer.content.decode()


def test_the_eye_is_set_with_a_frame_and_the_script_gets_the_new_order(cast: Cast, coach: Client) -> None:
    review = held(cast)
    swing = review.submission.clips.get().swings.get()
    sent = {"seen": "wrist_impact:cupped", "frame": f"{swing.public_id}@1500000"}
    answer = coach.post(desk(review, "desk-eye"), sent, headers=JSON)
    seen = Observation.objects.get()
    assert (seen.swing, seen.at_us) == (swing, 1_500_000)
    assert "Lead wrist at impact: cupped" in answer.json()["html"]
    coach.post(desk(review, "desk-eye"), {"seen": "node:", "node": "ds_flat_feet"})
    assert Observation.objects.filter(look="node", value="ds_flat_feet").exists()
    wrong = coach.post(desk(review, "desk-eye"), {"seen": "wrist_impact:purple"}, headers=JSON)
    assert (wrong.status_code, "from the list" in wrong.json()["sentence"]) == (400, True)
    coach.post(desk(review, "desk-eye-back", seen_id=seen.public_id))
    assert not Observation.objects.filter(pk=seen.pk).exists()


def test_a_body_root_takes_the_drills_away_and_says_why(cast: Cast, coach: Client) -> None:
    review = held(cast)
    factories.make_drill("two-dips", name="Two dips", sign="early_release")
    fields = {"revision": review.revision, "root_kind": "body", "root_node": "body_grip_strength"}
    answer = coach.post(desk(review, "desk-answer"), fields, headers=JSON).json()
    assert "not drilled away" in answer["drills"] and "Suggested" not in answer["drills"]
    again = coach.post(desk(review, "desk-answer"), fields | {"revision": answer["revision"]}, headers=JSON)
    assert "drills" not in again.json()


def test_frames_chosen_for_links_stay_chosen(cast: Cast, coach: Client) -> None:
    review = held(cast)
    swing = review.submission.clips.get().swings.get()
    frame = f"{swing.public_id}@1234000"
    fields = {"revision": review.revision, "mechanism_node": "im_scoop", "mechanism_frame": frame}
    coach.post(desk(review, "desk-answer"), fields)
    assert Finding.objects.get(review=review).frames["mechanism"]["at_us"] == 1_234_000
    assert "the chosen frame, 1.23 s" in shown(coach, review)


def test_the_last_finding_is_asked_again_and_the_old_idea_is_named(cast: Cast, coach: Client) -> None:
    old = answered(cast).finding_versions.get()
    review = held(cast, intents=["bel_lift"])
    page = shown(coach, review)
    assert "The old idea again" in page and "Still so" in page
    coach.post(desk(review, "desk-fate"), {"version": old.public_id, "fate": "revised"})
    assert FindingWord.objects.get().fate == "revised"
    Finding.objects.create(review=review, root_node="bel_lift", mechanism_node="ds_early_release")
    gaps = coach.get(desk(review, "desk-check")).content.decode()
    assert "what became of the last finding" not in gaps
    assert "The links behind it" in gaps and "grade C" in gaps
    stranger = factories.make_submission(cast.cohort_mate, cast.cohort)
    other = claim_review(factories.make_review(stranger), by=cast.coach, now=timezone.now())
    answer = coach.post(desk(other, "desk-fate"), {"version": old.public_id, "fate": "revised"})
    assert answer.status_code == 404


def test_a_colleagues_finding_stands_beside_the_answer(cast: Cast, client: Client) -> None:
    colleague = factories.make_user("Bo Second")
    factories.join(colleague, cast.cohort, "coach")
    review = answered(cast)
    client.force_login(colleague)
    client.post(desk(review, "desk-opinion"), {"root_node": "set_grip_weak", "confidence": "guess"})
    version = FindingVersion.objects.get(kind="opinion")
    assert (version.root_kind, version.by) == ("set_up", colleague)
    page = shown(client, review)
    assert "Findings side by side" in page and "Bo Second" in page
    client.force_login(cast.student)
    answer = client.get(reverse("student:answer", args=[review.public_id])).content.decode()
    assert "weak grip" not in answer and "Bo Second" not in answer


def test_the_new_form_tells_the_student_what_was_thought(cast: Cast, client: Client) -> None:
    answered(cast)
    client.force_login(cast.student)
    page = client.get(reverse("student:new")).content.decode()
    assert "Last time your coach thought" in page and "helped up" in page


def test_a_circle_in_the_map_is_refused_at_the_page(cast: Cast, coach: Client) -> None:
    camp = cast.camp.public_id
    sent = {"do": "edge", "cause": "im_scoop", "effect": "ds_early_release", "relation": "causes"}
    page = coach.post(reverse("coach:camp-map-change", args=[camp]), sent, follow=True).content.decode()
    assert "would close a circle" in page
    coach.post(reverse("coach:camp-map-change", args=[camp]), {"do": "off", "edge": "bel_lift>im_scoop"})
    old = coach.get(reverse("coach:camp-map", args=[camp]) + "?version=1").content.decode()
    assert "As it was with version 1" in old and "Switch on" not in old
