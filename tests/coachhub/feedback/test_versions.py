from __future__ import annotations

from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.causes import cause_map
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.camp_map import (
    add_edge,
    add_node,
    base_digest,
    map_of,
    set_question,
    switch_edge,
    with_changes,
)
from coachhub.feedback.domain.finding import chain, save_finding
from coachhub.feedback.domain.ideas import judge_grasp, old_idea_again, save_idea, say_it_back
from coachhub.feedback.domain.lessons import send_lesson
from coachhub.feedback.domain.ranking import suggest_roots
from coachhub.feedback.domain.reviews import claim_review, publish_review
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.domain.versions import (
    give_opinion,
    history,
    last_answered,
    links_of,
    say_fate,
)
from coachhub.feedback.models import (
    CampMap,
    Finding,
    FindingVersion,
    FindingWord,
    Lesson,
    LessonDelivery,
    Message,
    Review,
)
from coachhub.swings.domain.judgements import judge_sign
from coachhub.videos.models import Clip
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
DAY = timedelta(days=1)
LIFT = {
    "root_kind": "idea",
    "root_node": "bel_lift",
    "mechanism_node": "ds_early_release",
    "confidence": "likely",
}


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def held(cast: Cast, **fields: object) -> Review:
    submission = factories.make_submission(cast.student, cast.cohort, club_class="hybrid", **fields)
    swing = factories.make_swing(factories.make_clip(submission))
    judge_sign(swing, "early_release", "agree", by=cast.coach, now=NOW)
    return claim_review(factories.make_review(submission), by=cast.coach, now=NOW)


def answered(cast: Cast, finding: dict[str, str], *, now: object = NOW, **fields: object) -> Review:
    review = held(cast, **fields)
    save_finding(review, {"miss": "starts left, flies straight"} | finding)
    Review.objects.filter(pk=review.pk).update(priority="Turf after the ball")
    return publish_review(review, by=cast.coach, now=now)  # type: ignore[arg-type]


def test_an_answer_keeps_its_finding_with_miss_links_grades_and_map(cast: Cast) -> None:
    version = answered(cast, LIFT).finding_versions.get()
    assert (version.number, version.kind, version.confidence) == (1, "answer", "likely")
    assert version.miss_said["start"] == "left" and version.miss_said["hand"] == "right"
    assert version.miss_nodes == ["bf_pull"]
    first, *_, last = version.links
    assert (first["from"], first["relation"], first["grade"]) == (
        cause_map().nodes["bel_lift"].label,
        "causes",
        "C",
    )
    assert last["to"] == cause_map().nodes["bf_pull"].label
    assert version.map is None and base_digest() in version.map_name
    assert (version.place, version.offered[0]) == (1, "bel_lift")


def test_a_version_is_written_once(cast: Cast) -> None:
    review = answered(cast, LIFT)
    version = review.finding_versions.get()
    version.root = "something else"
    with pytest.raises(ValueError, match="written twice"):
        version.save()
    publish_review(review, by=cast.coach, now=NOW + DAY)
    assert FindingVersion.objects.count() == 1


@pytest.mark.parametrize(
    ("finding", "place", "edited"),
    [
        (LIFT, 1, True),
        (LIFT | {"taken_root": "bel_lift"}, 1, False),
        (LIFT | {"taken_root": "bel_lift", "root": "You want to lift it"}, 1, True),
        ({"root_kind": "set_up", "root_node": "set_posture_c"}, 0, False),
        ({"root": "My own idea of it"}, 0, False),
        ({"mechanism": "thrown"}, None, False),
    ],
)
def test_the_place_of_the_coachs_root_is_counted(
    cast: Cast, finding: dict[str, str], place: int | None, edited: bool
) -> None:
    version = answered(cast, finding).finding_versions.get()
    assert (version.place, version.was_edited) == (place, edited)


def test_later_submissions_confirm_revise_or_resolve_and_nothing_is_overwritten(cast: Cast) -> None:
    first = answered(cast, LIFT).finding_versions.get()
    second = held(cast, miss_start="straight", miss_curve="right")
    assert last_answered(second) == first
    say_fate(first, "open", review=second, by=cast.coach, now=NOW + DAY)
    say_fate(first, "confirmed", review=second, by=cast.coach, now=NOW + 2 * DAY)
    begun = Finding.objects.get(review=second)
    assert begun.root_node == "bel_lift", "still so starts the new chain"
    assert begun.miss == "starts on line, curves right", "with the ball of these swings"
    assert [past.fate for past in history(cast.student, cast.camp)] == [""], "not before the answer is out"
    Review.objects.filter(pk=second.pk).update(priority="Again")
    publish_review(second, by=cast.coach, now=NOW + 3 * DAY)
    follower = second.finding_versions.get()
    assert follower.follows == first
    past = history(cast.student, cast.camp)
    assert [(each.version, each.fate) for each in past] == [(first, "confirmed"), (follower, "")]
    third = held(cast)
    say_fate(follower, "resolved", review=third, by=cast.coach, now=NOW + 4 * DAY)
    assert FindingWord.objects.count() == 3
    with pytest.raises(ValueError, match="earlier finding"):
        say_fate(follower, "resolved", review=second, by=cast.coach, now=NOW)


def test_still_so_never_touches_a_chain_that_was_begun(cast: Cast) -> None:
    first = answered(cast, LIFT).finding_versions.get()
    second = held(cast)
    save_finding(second, {"root": "mine"})
    say_fate(first, "confirmed", review=second, by=cast.coach, now=NOW)
    assert Finding.objects.get(review=second).root == "mine"


def test_two_coaches_findings_stand_side_by_side(cast: Cast) -> None:
    colleague = factories.make_user("Bo Second")
    factories.join(colleague, cast.cohort, "coach")
    review = answered(cast, LIFT)
    give_opinion(review, {"root_kind": "set_up", "root_node": "set_grip_weak"}, by=colleague, now=NOW + DAY)
    kinds = list(review.finding_versions.values_list("number", "kind", "by__name"))
    assert kinds == [(1, "answer", cast.coach.name), (2, "opinion", colleague.name)]
    assert [past.version.number for past in history(cast.student, cast.camp)] == [1], "only coaches read it"
    with pytest.raises(RuleBroken, match="at least"):
        give_opinion(review, {"miss": "left"}, by=colleague, now=NOW)
    with pytest.raises(RuleBroken, match="Only a coach"):
        give_opinion(review, {"root": "x"}, by=cast.coach_elsewhere, now=NOW)


def test_own_words_and_nodes_that_the_map_does_not_join_are_the_coachs_own_link() -> None:
    own = links_of(
        FindingVersion(root="fear of the water", mechanism_node="im_scoop", miss="thin"),
        ["bf_thin"],
        cause_map(),
    )
    assert (own[0]["from"], own[0]["grade"]) == ("fear of the water", "")
    assert own[-1]["to"] == cause_map().nodes["bf_thin"].label and own[-1]["grade"] == "C"
    assert links_of(FindingVersion(root="only this"), [], cause_map()) == []


def test_the_old_idea_shows_again(cast: Cast) -> None:
    answered(cast, LIFT)
    again = old_idea_again(held(cast, intents=["bel_lift"]))
    assert again is not None and again.where == ("chosen again with these swings",)
    assert old_idea_again(held(cast, intents=["bel_bigturn"])) is None


def test_the_better_idea_is_said_back_and_judged(cast: Cast) -> None:
    review = held(cast)
    swing = review.submission.clips.get().swings.get()
    change = save_idea(
        review,
        {
            "better_idea": "The loft lifts it",
            "say_back": "What lifts it?",
            "own_at": f"{swing.public_id}@1500000",
        },
        by=cast.coach,
    )
    assert (change.own_swing, change.own_us) == (swing, 1_500_000)
    with pytest.raises(RuleBroken, match="not of this submission"):
        save_idea(review, {"own_at": f"{review.public_id}@1"}, by=cast.coach)
    with pytest.raises(RuleBroken, match="no answer yet"):
        say_it_back(review, "The loft", by=cast.student, now=NOW)
    Review.objects.filter(pk=review.pk).update(priority="x")
    review = publish_review(review, by=cast.coach, now=NOW)
    said = say_it_back(review, "The loft does", by=cast.student, now=NOW)
    assert said.message.text == "The loft does"
    with pytest.raises(RuleBroken, match="Only a coach"):
        judge_grasp(said, "understood", by=cast.student, now=NOW)
    judge_grasp(said, "not_yet", by=cast.coach, now=NOW)
    review.refresh_from_db()
    assert review.reply_waiting_since is not None, "the coach explains it another way"
    assert judge_grasp(said, "understood", by=cast.coach, now=NOW).grasp == "understood"
    review.refresh_from_db()
    assert review.reply_waiting_since is None


def test_a_demonstration_is_the_students_to_see_once_the_answer_is_out(cast: Cast) -> None:
    reference = factories.make_reference(cast.coach, cast.camp, is_shared=False)
    film = factories.make_clip(None, reference=reference, rendition_key="renditions/demo.mp4")
    review = held(cast)
    change = save_idea(review, {"demo_at": f"{film.public_id}@700000"}, by=cast.coach)
    assert (change.demo_clip, change.demo_us) == (film, 700_000)
    with pytest.raises(RuleBroken, match="not in your library"):
        save_idea(held(cast), {"demo_at": f"{film.public_id}@0"}, by=factories.make_user())
    assert not Clip.objects.visible_to(cast.student).filter(pk=film.pk).exists()
    Review.objects.filter(pk=review.pk).update(priority="x")
    publish_review(review, by=cast.coach, now=NOW)
    assert Clip.objects.visible_to(cast.student).filter(pk=film.pk).exists()
    assert not Clip.objects.visible_to(cast.cohort_mate).filter(pk=film.pk).exists()


# The camp's own map


def test_a_camp_switches_an_edge_off_and_an_old_finding_keeps_its_map(cast: Cast) -> None:
    old = answered(cast, LIFT).finding_versions.get()
    row = switch_edge(cast.camp, "bel_lift>ds_early_release", off=True, by=cast.coach, now=NOW)
    assert (row.number, map_of(cast.camp).found == cause_map()) == (1, False)
    new = answered(cast, LIFT).finding_versions.get()
    assert old.map is None and new.map == row
    assert old.links[0]["relation"] == "causes"
    assert (new.links[0]["how"], new.links[0]["grade"]) == ("the coach's own link", "")
    switch_edge(cast.camp, "bel_lift>ds_early_release", off=False, by=cast.coach, now=NOW)
    assert map_of(cast.camp).found == cause_map()
    assert CampMap.objects.count() == 2, "nothing is rewritten"
    assert map_of(cast.other_camp).row is None


def test_own_things_links_and_questions_count_in_the_ranking_and_in_the_chain(cast: Cast) -> None:
    add_node(cast.camp, kind="belief", label="the club must brush the sky", by=cast.coach, now=NOW)
    key = next(key for key in map_of(cast.camp).found.nodes if key.startswith("own_"))
    add_edge(cast.camp, cause=key, effect="ds_early_release", relation="causes", by=cast.coach, now=NOW)
    set_question(cast.camp, key, ask="What should the club brush?", by=cast.coach, now=NOW)
    review = held(cast, intents=[])
    found = suggest_roots(review)
    own = next(each for each in found.suggestions if each.root.key == key)
    assert own.step == "What should the club brush?"
    save_finding(review, {"root_kind": "idea", "root_node": key})
    assert chain(Finding.objects.get(review=review))[-1].text == "the club must brush the sky"


def test_a_circle_is_refused_in_the_maps_words(cast: Cast) -> None:
    with pytest.raises(RuleBroken, match="would close a circle") as refused:
        add_edge(
            cast.camp, cause="im_scoop", effect="ds_early_release", relation="causes", by=cast.coach, now=NOW
        )
    assert cause_map().nodes["im_scoop"].label in refused.value.sentence
    assert CampMap.objects.count() == 0
    add_edge(
        cast.camp, cause="im_scoop", effect="ds_early_release", relation="correlates", by=cast.coach, now=NOW
    )


def test_only_the_camps_coaches_change_its_map(cast: Cast) -> None:
    for person in (cast.student, cast.organiser, cast.organiser_elsewhere, cast.outsider):
        with pytest.raises(RuleBroken, match="Only a coach"):
            switch_edge(cast.camp, "bel_lift>im_scoop", off=True, by=person, now=NOW)


@settings(max_examples=40, deadline=None)
@given(
    off=st.lists(st.text(max_size=30) | st.sampled_from(["bel_lift>im_scoop"]), max_size=3),
    edges=st.lists(
        st.fixed_dictionaries(
            {
                "cause": st.sampled_from(["bel_lift", "gone", "im_scoop"]),
                "effect": st.sampled_from(["bf_thin", "gone_too"]),
                "relation": st.just("causes"),
                "how": st.just(""),
                "grade": st.just("C"),
                "support": st.just(""),
            }
        ),
        max_size=3,
    ),
)
def test_changes_made_for_an_older_shipped_map_never_break_a_newer_one(
    off: list[str], edges: list[dict[str, str]]
) -> None:
    found = with_changes({"off": off, "edges": edges, "questions": {"gone": {"ask": "x"}}})
    assert all(edge.cause in found.nodes and edge.effect in found.nodes for edge in found.edges)
    assert "gone" not in found.ideas


# Lessons


def test_a_lesson_reaches_each_in_the_own_thread_and_leaves_waiting_replies_waiting(cast: Cast) -> None:
    review = answered(cast, LIFT)
    post_message(thread_for(cast.student, cast.camp, now=NOW), by=cast.student, text="And now?", now=NOW)
    drill = factories.make_drill("turf-past-line", avoid_sites=["wrist"])
    factories.make_intake(cast.cohort_mate, pain="now", pain_sites=["wrist"], created_at=NOW + DAY)
    factories.make_submission(cast.cohort_mate, cast.cohort)
    stranger: User = cast.outsider
    lesson = send_lesson(
        cast.camp,
        ground="idea",
        key="bel_lift",
        text="The loft lifts the ball.",
        drill=drill,
        students=[cast.student, cast.cohort_mate, stranger],
        by=cast.coach,
        now=NOW + DAY,
    )
    got = dict(lesson.deliveries.values_list("message__thread__student__name", "with_drill"))
    assert got == {cast.student.name: True, cast.cohort_mate.name: False}
    review.refresh_from_db()
    assert review.reply_waiting_since is not None
    assert set(Lesson.objects.visible_to(cast.student)) == {lesson}
    assert not Lesson.objects.visible_to(cast.organiser_elsewhere).exists()


def test_a_lesson_for_nobody_or_from_elsewhere_is_refused(cast: Cast) -> None:
    more = {"ground": "idea", "key": "bel_lift", "text": "x", "now": NOW}
    with pytest.raises(RuleBroken, match="Nobody"):
        send_lesson(cast.camp, students=[cast.outsider], by=cast.coach, **more)  # type: ignore[arg-type]
    with pytest.raises(RuleBroken, match="Nobody"):
        send_lesson(cast.camp, students=[cast.student], by=cast.coach_elsewhere, **more)  # type: ignore[arg-type]
    with pytest.raises(RuleBroken, match="Only a coach"):
        send_lesson(cast.camp, students=[cast.student], by=cast.organiser, **more)  # type: ignore[arg-type]
    assert not LessonDelivery.objects.exists() and not Message.objects.exists()


def test_findings_that_went_out_before_versions_were_kept_get_theirs(cast: Cast) -> None:
    review = answered(cast, LIFT)
    review.finding_versions.all().delete()
    keep = import_module("coachhub.feedback.migrations.0008_keep_earlier_findings").keep
    keep(apps, None)
    keep(apps, None)
    version = review.finding_versions.get()
    assert (version.root_node, version.by, version.place) == ("bel_lift", cast.coach, None)
    assert version.created_at == review.published_at
