"""Which drills are offered. The safety rules: facts on back pain and red flags are general medical consensus."""

from __future__ import annotations

from pathlib import Path

import pytest

from coachhub.feedback.domain.finding import save_finding
from coachhub.feedback.domain.library import SHIPPED, allowed_drills, load_library, suggest
from coachhub.feedback.models import Drill, Review
from coachhub.swings.domain.judgements import judge_sign
from coachhub.swings.models import Swing
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    load_library(now=NOW)
    return make_cast()


def review_with(cast: Cast, signs: dict[str, str], **submission: object) -> Review:
    made = factories.make_submission(cast.student, cast.cohort, **submission)
    factories.make_swing(factories.make_clip(made), signs=signs)
    return factories.make_review(made)


def keys(review: Review) -> list[str]:
    return [offer.drill.key for offer in suggest(review).offered]


def swing_of(review: Review) -> Swing:
    return Swing.objects.get(clip__submission=review.submission)


def test_the_shipped_library_loads_whole_and_twice_changes_nothing(cast: Cast) -> None:
    before = list(Drill.objects.order_by("pk").values())
    assert load_library(SHIPPED, now=NOW) == len(before) == 34
    assert list(Drill.objects.order_by("pk").values()) == before


def test_a_library_with_an_unknown_site_is_refused(tmp_path: Path) -> None:
    text = SHIPPED.read_text().replace("low_back", "lower_back")
    (tmp_path / "drills.csv").write_text(text)
    with pytest.raises(ValueError, match="avoid_sites"):
        load_library(tmp_path / "drills.csv", now=NOW)


def test_likely_signs_bring_their_drills_and_possible_ones_none(cast: Cast) -> None:
    review = review_with(cast, {"early_release": "likely", "sway": "possible", "slide": "not_seen"})
    offers = suggest(review).offered
    assert {offer.drill.sign for offer in offers} == {"early_release"}
    assert {offer.reason for offer in offers} == {"early release: likely"}


def test_nothing_is_chosen_by_itself(cast: Cast) -> None:
    review = review_with(cast, {"early_release": "likely"})
    suggest(review)
    review.refresh_from_db()
    assert review.drill is None


def test_a_dismissed_sign_brings_nothing_and_a_confirmed_one_comes_first(cast: Cast) -> None:
    review = review_with(cast, {"early_release": "likely", "sway": "possible", "steep_plane": "likely"})
    swing = swing_of(review)
    judge_sign(swing, "early_release", "not_this", by=cast.coach, now=NOW)
    judge_sign(swing, "sway", "agree", by=cast.coach, now=NOW)
    offers = suggest(review).offered
    assert [offer.drill.sign for offer in offers] == ["sway", "steep_plane", "steep_plane"]
    assert offers[0].reason == "sway: confirmed"


def test_the_chosen_cause_comes_before_signs(cast: Cast) -> None:
    review = review_with(cast, {"sway": "likely"})
    save_finding(review, {"root_kind": "idea", "root_node": "bel_lift", "mechanism_node": "im_scoop"})
    found = keys(review)
    assert found[0] == "turf-past-line"
    assert set(found[1:3]) == {"towel-one-grip-behind", "lead-hand-chip"}
    assert found[3] == "turn-inside-a-stick"


def test_a_red_flag_stops_all_suggestions(cast: Cast) -> None:
    review = review_with(cast, {"early_release": "likely"}, red_flags=["numb"])
    found = suggest(review)
    assert (found.offered, found.held_back) == ((), ())
    assert "clinician" in found.stop
    assert allowed_drills(review) == []


def test_a_red_flag_of_the_intake_stops_them_too(cast: Cast) -> None:
    review = review_with(cast, {"early_release": "likely"})
    factories.make_intake(cast.student, pain="now", red_flags=["night"], created_at=NOW.replace(hour=20))
    assert suggest(review).stop


def test_a_drill_that_loads_what_hurts_is_not_offered(cast: Cast) -> None:
    factories.make_intake(cast.student, pain="now", pain_sites=["wrist"], created_at=NOW.replace(hour=20))
    review = review_with(cast, {"early_release": "likely"})
    found = suggest(review)
    assert {held.drill.key for held in found.held_back} == {"two-dips-then-through", "lead-hand-chip"}
    assert {held.reason for held in found.held_back} == {"pain now: wrist, hand or thumb"}
    assert all("wrist" not in offer.drill.avoid_sites for offer in found.offered)
    assert all("wrist" not in drill.avoid_sites for drill in allowed_drills(review))
    assert len(allowed_drills(review)) > 10


def test_pain_without_a_place_holds_back_every_drill_with_a_site(cast: Cast) -> None:
    review = review_with(cast, {"early_release": "likely"}, pain_today=True)
    found = suggest(review)
    assert [offer.drill.avoid_sites for offer in found.offered] == [[]]
    assert {held.reason for held in found.held_back} == {"pain was reported, but not where: ask first"}


def test_pain_in_the_past_is_a_caution(cast: Cast) -> None:
    factories.make_intake(cast.student, pain="past", pain_sites=["elbow"], created_at=NOW.replace(hour=20))
    review = review_with(cast, {"early_release": "likely"})
    cautions = {offer.drill.key: offer.caution for offer in suggest(review).offered}
    assert cautions["half-and-hold"] == "had pain before: elbow"
    assert cautions["towel-one-grip-behind"] == ""


@pytest.mark.parametrize("level", ["likely", "confirmed"])
def test_reverse_tilt_without_a_pain_answer_asks_the_back_question_first(cast: Cast, level: str) -> None:
    factories.make_intake(cast.student, pain="now", created_at=NOW.replace(hour=20))
    review = review_with(
        cast, {"reverse_spine_tilt": "likely" if level == "likely" else "possible", "sway": "likely"}
    )
    if level == "confirmed":
        judge_sign(swing_of(review), "reverse_spine_tilt", "agree", by=cast.coach, now=NOW)
    found = suggest(review)
    assert found.offered == ()
    assert "lower back" in found.ask
    # Answered: no pain anywhere.
    factories.make_intake(cast.student, pain="none", created_at=NOW.replace(hour=21))
    assert "turn-beside-a-wall" in keys(review)


def test_reverse_tilt_with_back_pain_offers_no_drill_that_loads_the_back(cast: Cast) -> None:
    factories.make_intake(cast.student, pain="now", pain_sites=["low_back"], created_at=NOW.replace(hour=20))
    review = review_with(cast, {"reverse_spine_tilt": "likely"})
    found = suggest(review)
    assert [held.drill.key for held in found.held_back] == ["turn-beside-a-wall"]
    assert found.offered == ()


def test_drills_of_another_camp_stay_there(cast: Cast) -> None:
    factories.make_drill("far", camp=cast.other_camp, sign="early_release")
    factories.make_drill("near", camp=cast.camp, sign="early_release")
    found = keys(review_with(cast, {"early_release": "likely"}))
    assert "near" in found
    assert "far" not in found
