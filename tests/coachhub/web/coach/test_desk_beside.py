"""What the desk answers about two swings, corrections and refusals, without a browser."""

from __future__ import annotations

import json
import uuid
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.comparisons import keep_comparison, pin_comparisons
from coachhub.feedback.domain.reviews import claim_review, publish_review, save_draft
from coachhub.feedback.models import Comparison, Review
from coachhub.swings.domain.readouts import save_readout
from coachhub.swings.domain.references import delete_reference
from coachhub.swings.models import Readout, Swing
from coachhub.videos.models import Reference
from coachhub.web.beside import replay_with_kept
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def held(cast: Cast) -> tuple[Review, Swing]:
    submission = factories.make_submission(cast.student, cast.cohort)
    swing = factories.make_swing(factories.make_clip(submission))
    review = factories.make_review(submission)
    return claim_review(review, by=cast.coach, now=NOW), swing


def reference_swing(cast: Cast, owner: Any = None, **fields: Any) -> Swing:
    reference = factories.make_reference(owner or cast.coach, cast.camp, "Calm seven", **fields)
    data = factories.readout_data({})
    data["metrics"] = {"tempo_ratio": {"value": 3.0, "se": 0.1, "unit": "", "at": ["top"]}}
    data["events"] = {name: {"t": 2 * event["t"], "se": 0.01} for name, event in data["events"].items()}
    return factories.make_swing(factories.make_clip(None, reference=reference), data=data)


def shown(here: Swing, there: Swing, /, **change: Any) -> dict[str, Any]:
    data = {
        "uid": str(uuid.uuid4()),
        "first": str(here.public_id),
        "second": str(there.public_id),
        "lock": "events",
        "offset_us": 0,
        "layout": "beside",
        "opacity": 50,
        "at_us": 1_200_000,
        "is_mirrored": False,
        "note": "the wait at the top",
        "shows_numbers": True,
    }
    return data | change


def signed_in(user: Any) -> Client:
    client = Client(headers={"Accept": "application/json"})
    client.force_login(user)
    return client


def test_the_desk_offers_the_session_the_earlier_and_the_library_and_nobody_elses(cast: Cast) -> None:
    review, swing = held(cast)
    before = factories.make_submission(
        cast.student, cast.cohort, state="answered", range_day=date(2026, 6, 3)
    )
    earlier = factories.make_swing(factories.make_clip(before))
    mates = factories.make_swing(
        factories.make_clip(factories.make_submission(cast.cohort_mate, cast.cohort))
    )
    mine, private = reference_swing(cast), reference_swing(cast, cast.coach_elsewhere, is_shared=False)
    page = signed_in(cast.coach).get(reverse("coach:desk", args=[review.public_id])).content.decode()
    for other, offered in ((swing, True), (earlier, True), (mine, True), (mates, False), (private, False)):
        assert (f'<option value="{other.public_id}"' in page) is offered
    for other, status in ((earlier, 200), (mine, 200), (mates, 404), (private, 404)):
        address = reverse("coach:desk-beside", args=[review.public_id])
        query = {"first": swing.public_id, "second": other.public_id}
        assert signed_in(cast.coach).get(address, query).status_code == status


def test_what_comes_beside_carries_the_map_and_the_numbers(cast: Cast) -> None:
    review, swing = held(cast)
    other = reference_swing(cast, handedness="left", club_class="driver")
    query = {"first": swing.public_id, "second": other.public_id}
    data = signed_in(cast.coach).get(reverse("coach:desk-beside", args=[review.public_id]), query).json()
    assert data["time_map"]["first_us"] == [300_000, 400_000, 1_200_000, 1_500_000, 2_200_000]
    assert data["time_map"]["second_us"] == [600_000, 800_000, 2_400_000, 3_000_000, 4_400_000]
    assert data["is_mirrored"] is True
    assert "Another club: iron here, driver there." in data["html"]
    # 2.7 (se 0.2) against 3.0 (se 0.1): 1.96 * hypot = 0.44, so 0.3 is within the noise.
    assert "−0.3" in data["html"] and "no more than measuring alone makes" in data["html"]


def test_a_kept_pair_stays_as_it_was_published(cast: Cast) -> None:
    review, swing = held(cast)
    other = reference_swing(cast)
    kept = keep_comparison(review, shown(swing, other), by=cast.coach, now=NOW)
    again = keep_comparison(
        review, shown(swing, other, uid=str(kept.public_id), note="new"), by=cast.coach, now=NOW
    )
    assert (again.pk, again.note, Comparison.objects.count()) == (kept.pk, "new", 1)
    review = save_draft(review, {"priority": "wait"}, revision=0, by=cast.coach, now=NOW)
    assert not Reference.objects.visible_to(cast.student).exists()
    publish_review(review, by=cast.coach, now=timezone.now())
    assert Reference.objects.visible_to(cast.student).count() == 1
    before = replay_with_kept(Review.objects.get(pk=review.pk), cast.student)["kept"][0]
    for one in (swing, other):
        measured_otherwise(one)
    after = replay_with_kept(Review.objects.get(pk=review.pk), cast.student)["kept"][0]
    assert after["data"]["time_map"] == before["data"]["time_map"]
    assert after["numbers"] == before["numbers"] and after["numbers"].rows[0].there == "3.0"
    for side in ("first", "second"):
        assert after["data"][side]["events"] == before["data"][side]["events"]


def measured_otherwise(swing: Swing) -> None:
    old = swing.readouts.get(is_current=True)
    data = old.data | {
        "events": {name: {"t": e["t"] + 0.1, "se": 0.01} for name, e in old.data["events"].items()}
    }
    data["metrics"] = {"tempo_ratio": {"value": 9.0, "se": 0.1, "unit": "", "at": ["top"]}}
    save_readout(swing, old.run, data, now=NOW)


def test_what_was_corrected_before_publishing_is_what_goes_out(cast: Cast) -> None:
    review, swing = held(cast)
    other = reference_swing(cast)
    kept = keep_comparison(review, shown(swing, other), by=cast.coach, now=NOW)
    measured_otherwise(swing)
    pin_comparisons(review, now=NOW)
    kept.refresh_from_db()
    assert kept.first_readout == Readout.objects.get(swing=swing, is_current=True)
    assert kept.time_map["first_us"][0] == 400_000


def test_a_removed_film_leaves_its_words(cast: Cast) -> None:
    review, swing = held(cast)
    other = reference_swing(cast)
    keep_comparison(review, shown(swing, other), by=cast.coach, now=NOW)
    reference = other.clip.reference
    assert reference is not None
    delete_reference(reference, by=cast.coach, now=NOW)
    kept = replay_with_kept(review, cast.coach)["kept"][0]
    assert kept["words"].startswith("Calm seven") and "removed" in kept["gone"] and kept["data"] is None


@pytest.mark.parametrize(
    "change",
    [
        {"uid": "no"},
        {"lock": "glue"},
        {"opacity": 101},
        {"at_us": -1},
        {"offset_us": True},
        {"note": "x" * 301},
        {"second": "0f0f5f3a-6d0b-4b4f-9d5e-8f114b0a3a39"},
    ],
)
def test_what_can_not_be_kept_is_refused(cast: Cast, change: dict[str, Any]) -> None:
    review, swing = held(cast)
    with pytest.raises(RuleBroken):
        keep_comparison(review, shown(swing, reference_swing(cast), **change), by=cast.coach, now=NOW)
    assert not Comparison.objects.exists()


def test_only_who_holds_the_review_keeps_and_at_most_four(cast: Cast) -> None:
    review, swing = held(cast)
    other = reference_swing(cast)
    with pytest.raises(RuleBroken):
        keep_comparison(review, shown(swing, other), by=cast.coach_elsewhere, now=NOW)
    for _ in range(4):
        keep_comparison(review, shown(swing, other), by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken, match="at most 4"):
        keep_comparison(review, shown(swing, other), by=cast.coach, now=NOW)


@pytest.mark.parametrize(
    ("route", "data"),
    [
        ("coach:desk-correct", {"event": "top", "t_s": "soon"}),
        ("coach:desk-correct", {"event": "top"}),
        ("coach:desk-correct", {"event": "peak", "t_s": "1"}),
        ("coach:desk-judge", {"sign": "nonsense", "verdict": "agree"}),
        ("coach:desk-judge", {"sign": "early_release", "verdict": "perhaps"}),
        ("coach:desk-judge", {"sign": "early_release", "verdict": "agree", "swing": "x"}),
        ("coach:desk-joint", {"joint": "left_wrist", "do": "set"}),
        ("coach:desk-joint", {"joint": "knuckle", "do": "set", "t_us": "1", "x": "0", "y": "0"}),
    ],
)
def test_refusals_speak_plain_words(cast: Cast, route: str, data: dict[str, str]) -> None:
    review, swing = held(cast)
    answer = signed_in(cast.coach).post(
        reverse(route, args=[review.public_id]), {"swing": str(swing.public_id)} | data
    )
    sentence = answer.json()["sentence"]
    assert answer.status_code == 400
    assert not any(
        key in sentence for key in ("t_s", "_", "swing:", "sign:", "verdict:", "event:", "t_us", "{")
    )
    assert sentence[0].isupper() and sentence.endswith(".")


def test_a_broken_comparison_is_a_sentence(cast: Cast) -> None:
    review, _ = held(cast)
    address = reverse("coach:desk-comparisons", args=[review.public_id])
    for body in ("[]", "{", json.dumps({"uid": 3})):
        answer = signed_in(cast.coach).post(address, body, content_type="application/json")
        assert answer.status_code == 400 and answer.json()["sentence"]
