from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.feedback.domain.marks import MOST_MARKS, save_marks
from coachhub.feedback.domain.reviews import claim_review
from coachhub.feedback.models import Mark, Moment, Review
from coachhub.swings.models import Swing
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.unit]


@pytest.fixture
def coach() -> User:
    return factories.make_user("Ada Coach")


@pytest.fixture
def review(coach: User) -> Review:
    cohort = factories.make_cohort()
    factories.join(coach, cohort, Role.COACH)
    student = factories.make_student(cohort)
    submission = factories.make_submission(student, cohort)
    factories.make_swing(factories.make_clip(submission))
    return claim_review(factories.make_review(submission), by=coach, now=NOW)


def swing_of(review: Review) -> Swing:
    return Swing.objects.filter(clip__submission=review.submission).earliest("pk")


def mark(review: Review, **fields: Any) -> dict[str, Any]:
    return {
        "uid": str(uuid.uuid4()),
        "swing": str(swing_of(review).public_id),
        "kind": "line",
        "points": [[0.1, 0.2], [0.5, 0.75]],
        "from_us": 1_000_000,
        "to_us": 1_300_000,
        "label": "shaft",
        "note": "the shaft lies on this line",
    } | fields


def moment(review: Review, **fields: Any) -> dict[str, Any]:
    swing = str(swing_of(review).public_id)
    return {"uid": str(uuid.uuid4()), "swing": swing, "at_us": 1_200_000, "note": "look here"} | fields


def save(review: Review, coach: User, marks: Any = (), moments: Any = (), revision: int = 0) -> Review:
    return save_marks(review, list(marks), list(moments), revision=revision, by=coach, now=NOW)


def test_what_was_drawn_is_what_is_stored(review: Review, coach: User) -> None:
    sent = [mark(review), mark(review, kind="angle", points=[[0, 0], [0.5, 0.5], [1, 1]])]
    saved = save(review, coach, sent, [moment(review)])
    assert saved.revision == 1
    stored = [
        {"uid": str(m.uid), "kind": m.kind, "points": m.points, "from_us": m.from_us, "to_us": m.to_us}
        | {"label": m.label, "note": m.note, "swing": str(m.swing.public_id)}
        for m in Mark.objects.filter(review=review)
    ]
    assert stored == sent
    assert list(Moment.objects.values_list("at_us", "note")) == [(1_200_000, "look here")]


def test_how_a_line_is_drawn_is_kept(review: Review, coach: User) -> None:
    save(review, coach, [mark(review, weight="strong", is_dashed=True), mark(review)])
    kept = list(Mark.objects.values_list("weight", "is_dashed"))
    assert kept == [("strong", True), ("normal", False)]
    with pytest.raises(RuleBroken, match="thin, normal, strong"):
        save(review, coach, [mark(review, weight="huge")], revision=1)


def test_saving_again_replaces_all(review: Review, coach: User) -> None:
    kept, dropped, added = mark(review), mark(review), mark(review, label="new")
    save(review, coach, [kept, dropped], [moment(review)])
    save(review, coach, [added, kept], [], revision=1)
    assert [str(uid) for uid in Mark.objects.values_list("uid", flat=True)] == [added["uid"], kept["uid"]]
    assert not Moment.objects.exists()


def test_a_save_from_an_older_page_changes_nothing(review: Review, coach: User) -> None:
    first = mark(review)
    save(review, coach, [first])
    with pytest.raises(Stale):
        save(review, coach, [], revision=0)
    assert [str(uid) for uid in Mark.objects.values_list("uid", flat=True)] == [first["uid"]]


def test_only_the_coach_who_holds_the_review_draws(review: Review) -> None:
    other = factories.make_user()
    factories.join(other, review.submission.cohort, Role.COACH)
    with pytest.raises(RuleBroken, match="is reviewing this one"):
        save(review, other, [mark(review)])
    assert not Mark.objects.exists()


def test_drawing_keeps_the_claim_alive(review: Review, coach: User) -> None:
    later = NOW + timedelta(minutes=90)
    save_marks(review, [], [], revision=0, by=coach, now=later)
    review.refresh_from_db()
    assert review.claimed_at == later


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("kind", "square", "kind"),
        ("kind", None, "kind"),
        ("points", [[0.1, 0.2]], "points"),
        ("points", [[0.1, 0.2], [0.3, 1.2]], "points"),
        ("points", [[0.1, 0.2], [0.3, float("nan")]], "points"),
        ("points", [[0.1, 0.2], [0.3, True]], "points"),
        ("points", [[0.1, 0.2], ["0.3", 0.1]], "points"),
        ("points", "0.1,0.2", "points"),
        ("from_us", -1, "time"),
        ("from_us", 2_000_000, "span"),
        ("to_us", 10**12, "time"),
        ("to_us", 1.5, "time"),
        ("uid", "me", "id"),
        ("swing", "", "id"),
        ("label", "x" * 121, "too_long"),
        ("note", "x" * 301, "too_long"),
    ],
)
def test_a_broken_drawing_is_refused_and_nothing_changes(
    review: Review, coach: User, field: str, value: Any, code: str
) -> None:
    before = mark(review)
    save(review, coach, [before])
    with pytest.raises(RuleBroken) as broken:
        save(review, coach, [mark(review, **{field: value})], revision=1)
    assert broken.value.code == code
    review.refresh_from_db()
    assert review.revision == 1
    assert [str(uid) for uid in Mark.objects.values_list("uid", flat=True)] == [before["uid"]]


def test_a_text_and_a_moment_need_words(review: Review, coach: User) -> None:
    with pytest.raises(RuleBroken, match="needs words"):
        save(review, coach, [mark(review, kind="text", points=[[0.5, 0.5]], label=" ")])
    with pytest.raises(RuleBroken, match="needs a sentence"):
        save(review, coach, [], [moment(review, note="")])


def test_too_many_and_doubled_drawings_are_refused(review: Review, coach: User) -> None:
    with pytest.raises(RuleBroken, match=f"at most {MOST_MARKS}"):
        save(review, coach, [mark(review) for _ in range(MOST_MARKS + 1)])
    same = mark(review)
    with pytest.raises(RuleBroken, match="twice"):
        save(review, coach, [same, same])


def test_a_swing_of_another_submission_is_out_of_reach(review: Review, coach: User) -> None:
    other = factories.make_submission(review.submission.student, review.submission.cohort)
    foreign = factories.make_swing(factories.make_clip(other))
    with pytest.raises(RuleBroken, match="does not belong"):
        save(review, coach, [mark(review, swing=str(foreign.public_id))])


def test_a_clip_without_numbers_can_be_drawn_on(review: Review, coach: User) -> None:
    clip = factories.make_clip(review.submission, duration_s=4.0)
    here = {"swing": str(clip.public_id)}
    save(review, coach, [mark(review, **here)], [moment(review, **here)])
    swing = Swing.objects.get(clip=clip)
    assert (swing.number, swing.start_s, swing.end_s) == (1, 0.0, 4.0)
    assert Mark.objects.get().swing == swing
    save(review, coach, [mark(review, **here)], revision=1)
    assert Swing.objects.filter(clip=clip).count() == 1
