from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from coachhub.common.domain.events import record
from coachhub.common.domain.sights import note_sight
from coachhub.progress.domain.audit import PAGE, Wanted, audit_log
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def test_changes_and_looks_stand_in_one_list_newest_first(cast: Cast) -> None:
    submission = factories.make_submission(cast.student, cast.cohort)
    clip, scope = factories.make_clip(submission), cast.camp.public_id
    record("submission.sent", submission, by=cast.student, now=NOW, scope=scope)
    note_sight(clip, by=cast.coach, now=NOW + timedelta(minutes=1), scope=scope)
    record("clip.usable", clip, by=None, now=NOW + timedelta(minutes=2), scope=scope)
    entries = audit_log(cast.camp)
    assert [(one.verb, one.actor, one.about) for one in entries] == [
        ("clip.usable", "", cast.student.name),
        ("saw", cast.coach.name, cast.student.name),
        ("submission.sent", cast.student.name, cast.student.name),
    ]
    assert [one.verb for one in audit_log(cast.camp, Wanted(kind="sight"))] == ["saw"]
    assert "saw" not in [one.verb for one in audit_log(cast.camp, Wanted(kind="change"))]


def test_other_camps_are_not_in_it(cast: Cast) -> None:
    record(
        "camp.edited", cast.other_camp, by=cast.organiser_elsewhere, now=NOW, scope=cast.other_camp.public_id
    )
    assert audit_log(cast.camp) == []


def test_it_can_be_asked_of_one_person_and_about_one_student(cast: Cast) -> None:
    scope = cast.camp.public_id
    for student in (cast.student, cast.cohort_mate):
        submission = factories.make_submission(student, cast.cohort)
        record("submission.sent", submission, by=student, now=NOW, scope=scope)
        record("submission.usable", submission, by=None, now=NOW, scope=scope)
    assert [one.about for one in audit_log(cast.camp, Wanted(about=cast.student))] == [cast.student.name] * 2
    assert [one.verb for one in audit_log(cast.camp, Wanted(actor=cast.student))] == ["submission.sent"]


def test_a_long_log_goes_on_where_the_page_ended(cast: Cast) -> None:
    for minute in range(PAGE + 5):
        at = NOW + timedelta(minutes=minute)
        record("camp.edited", cast.camp, by=cast.organiser, now=at, scope=cast.camp.public_id)
    first = audit_log(cast.camp)
    rest = audit_log(cast.camp, Wanted(before=first[-1].at))
    assert (len(first), len(rest)) == (PAGE, 5)
    assert {one.at for one in first}.isdisjoint(one.at for one in rest)


def test_a_page_costs_a_query_for_each_kind_of_thing(cast: Cast, django_assert_max_num_queries: Any) -> None:
    scope = cast.camp.public_id
    for _ in range(20):
        submission = factories.make_submission(cast.student, cast.cohort)
        record("submission.sent", submission, by=cast.student, now=NOW, scope=scope)
        record("clip.received", factories.make_clip(submission), by=cast.student, now=NOW, scope=scope)
    with django_assert_max_num_queries(4):
        assert len(audit_log(cast.camp)) == 40
