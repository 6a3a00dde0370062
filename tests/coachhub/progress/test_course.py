"""One time line of a student; the word "changed" only by the comparison of range sessions."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from coachhub.feedback.domain.finding import save_finding
from coachhub.feedback.domain.ideas import judge_grasp, say_it_back
from coachhub.feedback.domain.practice import log_practice
from coachhub.feedback.domain.reviews import claim_review, publish_review
from coachhub.feedback.domain.versions import last_answered, say_fate
from coachhub.feedback.models import Review
from coachhub.progress.domain.course import Course, course_of
from coachhub.progress.domain.patterns import groups, takes
from coachhub.swings.domain.judgements import judge_sign
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
METRIC = "arm_shaft_lead_arm_parallel_down"
WEEK = timedelta(days=7)


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def session(
    cast: Cast, values: list[float], *, after: timedelta = timedelta(0), by: Any = None, **fields: Any
) -> Review:
    """A range session whose swings measured ``values``; the early release confirmed, an answer out."""
    submission = factories.make_submission(
        by or cast.student,
        cast.cohort,
        club_class="hybrid",
        range_day=date(2026, 6, 9) + after,
        **fields,
    )
    clip = factories.make_clip(submission)
    for value in values:
        data = factories.readout_data({"early_release": "likely"})
        data["metrics"] = {
            METRIC: {"value": value, "se": 2.0, "unit": "deg", "at": ["lead_arm_parallel_down"]}
        }
        swing = factories.make_swing(clip, data=data)
        judge_sign(swing, "early_release", "agree", by=cast.coach, now=NOW + after)
    review = claim_review(factories.make_review(submission), by=cast.coach, now=NOW + after)
    save_finding(
        review,
        {"miss": "left", "mechanism_node": "ds_early_release", "root_kind": "idea", "root_node": "bel_lift"},
    )
    Review.objects.filter(pk=review.pk).update(priority="Turf after the ball")
    earlier = last_answered(review)
    if earlier is not None:
        say_fate(earlier, "confirmed", review=review, by=cast.coach, now=NOW + after)
    return publish_review(review, by=cast.coach, now=NOW + after)


def strands(course: Course) -> dict[str, str]:
    return {strand.what or strand.metric: strand.sentence for strand in course.strands}


def test_idea_release_and_ball_are_told_apart_with_their_days(cast: Cast) -> None:
    first = session(cast, [140.0, 141.0, 139.0])
    log_practice(first, "done", by=cast.student, on_day=date(2026, 6, 11), balls=40, now=NOW + WEEK)
    said = say_it_back(first, "The loft lifts it", by=cast.student, now=NOW + timedelta(days=2))
    judge_grasp(said, "understood", by=cast.coach, now=NOW + timedelta(days=3))
    session(cast, [139.0, 140.0, 141.0], after=WEEK, intents=["nothing"])
    session(cast, [105.0, 106.0, 104.0], after=2 * WEEK, intents=[], miss_start="straight")
    course = course_of(cast.student, cast.camp)
    found = strands(course)
    assert "said back and understood (13 June, week 2)" in found["The idea"]
    assert "not chosen any more since 16 June" in found["The idea"]
    assert found[METRIC].startswith("changed by -35") and "first seen 23 June, week 4" in found[METRIC]
    assert found["The ball"].startswith("reported differently (23 June, week 4): starts on line")
    kinds = [[entry.kind for entry in day.entries] for day in course.days]
    assert kinds[0] == ["session", "sign"] and ["practice"] in kinds
    numbers = [entry for day in course.days for entry in day.entries if entry.kind == "number"]
    assert [entry.text.split(" ")[0] for entry in numbers] == ["no", "changed"]


def test_two_swings_a_side_are_never_called_a_change(cast: Cast) -> None:
    session(cast, [140.0, 141.0])
    session(cast, [90.0, 91.0, 92.0], after=WEEK)
    found = strands(course_of(cast.student, cast.camp))
    assert found[METRIC].startswith("fewer than 3 swings")
    assert "chosen again" in found["The idea"]
    assert found["The ball"].startswith("the same miss reported")


def test_another_club_or_an_unanswered_session_is_no_ground_for_a_claim(cast: Cast) -> None:
    session(cast, [140.0, 141.0, 139.0])
    other = factories.make_submission(
        cast.student, cast.cohort, club_class="driver", range_day=date(2026, 6, 16)
    )
    factories.make_review(other)
    clip = factories.make_clip(other)
    for value in (90.0, 91.0, 92.0):
        data = factories.readout_data({})
        data["metrics"] = {METRIC: {"value": value, "se": 2.0, "unit": "deg"}}
        factories.make_swing(clip, data=data)
    assert METRIC not in strands(course_of(cast.student, cast.camp, only_published=False))
    seen = [entry.day for day in course_of(cast.student, cast.camp).days for entry in day.entries]
    assert date(2026, 6, 16) not in seen, "a student sees what is answered"


def test_groups_count_each_student_with_the_newest_answer_and_places_are_counted(cast: Cast) -> None:
    session(cast, [140.0])
    session(cast, [140.0], after=WEEK, miss_start="right", miss_curve="none")
    session(cast, [140.0], by=cast.cohort_mate)
    found = {(each.ground, each.key): len(each.students) for each in groups(cast.camp, [cast.cohort])}
    assert found["idea", "bel_lift"] == 2
    assert found["miss", "bf_pull"] == 1 and found["miss", "bf_push"] == 1
    assert found["sign", "early_release"] == 2
    counted = takes(cast.camp, [cast.cohort])
    assert counted.all == 3 and counted.first == 3 and counted.as_offered == 0
    assert groups(cast.camp, [cast.other_cohort]) == []
    assert takes(cast.other_camp, []).all == 0
