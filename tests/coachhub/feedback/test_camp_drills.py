"""A camp's own drills, the drawings of the shipped ones, drills of lessons, and what is kept for later."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.camp_drills import DrillWords, edit_drill, make_drill, retire_drill
from coachhub.feedback.domain.library import SHIPPED, allowed_drills, load_library, suggest
from coachhub.feedback.domain.parked import drop, park, parked_for, take_up
from coachhub.feedback.domain.practice import log_practice
from coachhub.feedback.enums import MessageKind, PracticeKind, ReviewState
from coachhub.feedback.library.figures import FIGURES, drawing
from coachhub.feedback.models import Drill, Lesson, LessonDelivery, Message, Practice, Review
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

FILES = Path(__file__).resolve().parents[3] / "coachhub" / "web" / "static" / "img" / "drills"
WORDS = DrillWords(
    name="Broom handle",
    how="Swing a broom handle slowly.",
    cue="brush the doormat",
    dose="3 sets of 8",
    per_week="3 times a week",
    progression="with a club",
    stop_rule="stop at any pain",
    avoid_sites=("wrist",),
    figure="rails",
)


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def test_each_shipped_drill_has_a_drawing_that_the_generator_makes(db: None) -> None:
    load_library(SHIPPED, now=NOW)
    keys = set(Drill.objects.values_list("key", flat=True))
    assert keys == set(FIGURES) == {path.stem for path in FILES.glob("*.svg")}
    texts = {key: (FILES / f"{key}.svg").read_text(encoding="utf-8") for key in keys}
    assert len(set(texts.values())) == len(keys)
    for key, text in texts.items():
        assert text == drawing(key)
        root = ElementTree.fromstring(text)
        assert root.tag == "{http://www.w3.org/2000/svg}svg" and root[0].text
        assert "style" not in text and "script" not in text


def test_each_shipped_drill_says_cue_dose_progression_and_when_to_stop(db: None) -> None:
    load_library(SHIPPED, now=NOW)
    for drill in Drill.objects.all():
        assert drill.cue and drill.dose and drill.per_week and drill.progression and drill.stop_rule, (
            drill.key
        )


def test_a_coach_makes_changes_and_takes_out(cast: Cast) -> None:
    made = make_drill(cast.camp, WORDS, by=cast.coach, now=NOW)
    changed = edit_drill(made, replace(WORDS, dose="5 sets"), by=cast.coach, now=NOW)
    assert (changed.pk, changed.dose, changed.figure) == (made.pk, "5 sets", "rails")
    assert changed in Drill.objects.in_reach(cast.camp)
    assert retire_drill(changed, by=cast.coach, now=NOW)
    assert not retire_drill(changed, by=cast.coach, now=NOW)
    assert changed not in Drill.objects.in_reach(cast.camp)


def test_what_was_given_reads_on_as_it_was(cast: Cast) -> None:
    made = make_drill(cast.camp, WORDS, by=cast.coach, now=NOW)
    review = factories.make_review(factories.make_submission(cast.student, cast.cohort), drill=made)
    changed = edit_drill(made, replace(WORDS, how="Another way."), by=cast.coach, now=NOW)
    review.refresh_from_db()
    assert review.drill is not None and review.drill.how == WORDS.how
    assert changed.pk != made.pk
    assert set(Drill.objects.in_reach(cast.camp)) == {changed}


@pytest.mark.parametrize("missing", ["cue", "dose", "progression", "stop_rule", "per_week"])
def test_a_drill_lacks_nothing(cast: Cast, missing: str) -> None:
    with pytest.raises(RuleBroken):
        make_drill(cast.camp, DrillWords(**asdict(WORDS) | {missing: " "}), by=cast.coach, now=NOW)


def test_others_and_the_shared_library_are_out_of_reach(cast: Cast) -> None:
    made = make_drill(cast.camp, WORDS, by=cast.coach, now=NOW)
    for person in (cast.student, cast.organiser, cast.guardian):
        with pytest.raises(RuleBroken):
            edit_drill(made, WORDS, by=person, now=NOW)
    with pytest.raises(RuleBroken, match="shared"):
        edit_drill(factories.make_drill(), WORDS, by=cast.coach, now=NOW)
    elsewhere = factories.make_reference(cast.coach, factories.make_camp())
    with pytest.raises(RuleBroken, match="film"):
        make_drill(cast.camp, WORDS, film=elsewhere, by=cast.coach, now=NOW)


def lesson_for(student: User, cohort: Cohort, coach: User) -> LessonDelivery:
    lesson = Lesson.objects.create(
        camp=cohort.camp,
        by=coach,
        ground="miss",
        key="bf_pull",
        text="For all.",
        drill=factories.make_drill(sign="early_release"),
        created_at=NOW,
    )
    thread = factories.make_thread(student, cohort)
    message = Message.objects.create(
        thread=thread, author=coach, kind=MessageKind.NOTE, text="x", created_at=NOW
    )
    return LessonDelivery.objects.create(lesson=lesson, message=message, with_drill=True)


def test_pain_from_a_lessons_drill_raises_what_waits_and_stops_it(cast: Cast) -> None:
    delivery = lesson_for(cast.student, cast.cohort, cast.coach)
    submission = factories.make_submission(cast.student, cast.cohort)
    factories.make_swing(factories.make_clip(submission), signs={"early_release": "likely"})
    review = factories.make_review(submission)
    assert delivery.lesson.drill in [offer.drill for offer in suggest(review).offered]
    log_practice(delivery, PracticeKind.HURTS, by=cast.student, on_day=NOW.date(), note="wrist", now=NOW)
    review.refresh_from_db()
    assert review.has_pain and review.reply_waiting_since == NOW
    assert delivery.lesson.drill in [held.drill for held in suggest(review).held_back]
    assert delivery.lesson.drill not in [offer.drill for offer in suggest(review).offered]
    with pytest.raises(RuleBroken, match="stopped"):
        log_practice(delivery, PracticeKind.DONE, by=cast.student, on_day=NOW.date(), now=NOW)
    assert Practice.objects.of(cast.student, cast.camp).get().drill == delivery.lesson.drill
    assert not Practice.objects.visible_to(cast.cohort_mate).exists()
    with pytest.raises(RuleBroken):
        log_practice(delivery, PracticeKind.DONE, by=cast.cohort_mate, on_day=NOW.date(), now=NOW)


def held_review(cast: Cast) -> Review:
    return factories.make_review(
        factories.make_submission(cast.student, cast.cohort),
        state=ReviewState.CLAIMED,
        claimed_by=cast.coach,
        claimed_at=NOW,
        priority="the grip",
    )


def test_one_thing_at_a_time_and_the_rest_waits(cast: Cast) -> None:
    place = Membership.objects.get(user=cast.student, cohort=cast.cohort)
    first = park(place, words=" a fuller   finish ", by=cast.coach, now=NOW)
    assert park(place, words="A fuller finish", by=cast.coach, now=NOW) == first
    second = park(place, words="ball position", by=cast.coach, now=NOW)
    review = take_up(first, held_review(cast), by=cast.coach, now=NOW)
    assert (review.priority, review.revision) == ("a fuller finish", 1)
    # What stood there is kept, not lost.
    assert [one.words for one in parked_for(cast.student, cast.camp)] == ["ball position", "the grip"]
    drop(second, by=cast.coach, now=NOW)
    assert [one.words for one in parked_for(cast.student, cast.camp)] == ["the grip"]
    with pytest.raises(RuleBroken, match="already"):
        drop(second, by=cast.coach, now=NOW)


def test_only_a_coach_keeps_something_for_later(cast: Cast) -> None:
    place = Membership.objects.get(user=cast.student, cohort=cast.cohort)
    for person in (cast.organiser, cast.cohort_mate):
        with pytest.raises(RuleBroken):
            park(place, words="x", by=person, now=NOW)
    parked = park(place, words="x", by=cast.coach, now=NOW)
    waiting = factories.make_review(factories.make_submission(cast.student, cast.cohort))
    with pytest.raises(RuleBroken):
        take_up(parked, waiting, by=cast.coach, now=NOW)
    parked.refresh_from_db()
    assert parked.state == "parked" and allowed_drills(waiting) == []
