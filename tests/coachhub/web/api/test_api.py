"""The API follows the pages' rules: who sees what, and what a student may read of the measuring."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from coachhub.accounts.models import User
from coachhub.feedback.models import Message
from coachhub.progress.domain.readable import numbers_behind
from coachhub.swings.models import SignJudgement
from tests.coachhub.web import scene as scenes
from tests.coachhub.web.scene import Scene
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
Get = Callable[[User, str], Any]


def addresses(scene: Scene) -> dict[str, str]:
    swing = scene.answered.clips.get().swings.get()
    return {
        "camp": f"/camps/{scene.cast.camp.public_id}/cohorts",
        "figures": f"/cohorts/{scene.cast.cohort.public_id}/figures",
        "submission": f"/submissions/{scene.answered.public_id}",
        "draft": f"/submissions/{scene.draft.public_id}",
        "answer": f"/submissions/{scene.answered.public_id}/answer",
        "unanswered": f"/submissions/{scene.submission.public_id}/answer",
        "swing": f"/swings/{swing.public_id}",
        "readout": f"/swings/{swing.public_id}/readout",
        "unread": f"/swings/{scene.swing.public_id}/readout",
        "thread": f"/threads/{scene.thread.public_id}/messages",
    }


IN_SIGHT = {
    "camp": {"student", "cohort_mate", "coach", "coach_elsewhere", "organiser"},
    "figures": {"coach", "organiser"},
    "submission": {"student", "coach", "organiser"},
    "draft": {"student"},
    "answer": {"student", "coach", "organiser"},
    "unanswered": set(),
    "swing": {"student", "coach", "organiser"},
    "readout": {"student", "coach", "organiser"},
    "unread": {"coach", "organiser"},
    "thread": {"student", "coach", "organiser"},
}
PEOPLE = (
    "student",
    "cohort_mate",
    "coach",
    "coach_elsewhere",
    "organiser",
    "organiser_elsewhere",
    "outsider",
)


@pytest.mark.parametrize("person", PEOPLE)
def test_each_person_of_the_cast_gets_what_the_pages_give(scene: Scene, get: Get, person: str) -> None:
    user = scene.cast.person(person)
    assert isinstance(user, User)
    for name, path in addresses(scene).items():
        response = get(user, path)
        seen = response.status_code == 200
        assert seen == (person in IN_SIGHT[name]), f"{name} as {person}: {response.status_code}"
        if not seen:
            assert response.status_code in {403, 404, 409}
            assert response.headers["Content-Type"] == "application/problem+json"
            assert set(response.json()) == {"status", "code", "detail"}
            for word in (scenes.SECRET_NOTE, scenes.SECRET_ANSWER, scenes.SECRET_MESSAGE):
                assert word not in response.content.decode()


def test_lists_hold_only_what_is_in_sight(scene: Scene, get: Get) -> None:
    cast = scene.cast
    assert len(get(cast.student, "/submissions").json()) == 3
    assert len(get(cast.coach, "/submissions").json()) == 3  # the minor's too, not the draft
    # A guardian reads what is the child's, and no more.
    (only,) = get(cast.guardian, "/submissions").json()
    assert only["id"] == str(scene.minor_answer.submission.public_id)
    assert [one["id"] for one in get(cast.guardian, "/threads").json()] == [str(scene.minor_thread.public_id)]
    for person in (cast.cohort_mate, cast.outsider, cast.organiser_elsewhere, cast.coach_elsewhere):
        assert get(person, "/submissions").json() == []
        # Nobody reads the student's thread; an own one may be there.
        seen = [one["student"] for one in get(person, "/threads").json()]
        assert str(cast.student.public_id) not in seen and set(seen) <= {str(person.public_id)}, person.name
    assert [one["name"] for one in get(cast.student, "/camps").json()] == [cast.camp.name]
    assert get(cast.outsider, "/camps").json() == []


def test_a_student_reads_confirmed_signs_and_their_numbers_only(scene: Scene, get: Get) -> None:
    swing = scene.answered.clips.get().swings.get()
    path = f"/swings/{swing.public_id}/readout"
    whole = get(scene.cast.coach, path).json()
    assert "early_release" in whole["signs"] and whole["reviewed"]
    before = get(scene.cast.student, path).json()
    assert before["signs"] == {} and before["metrics"] == {}
    SignJudgement.objects.create(
        swing=swing, sign="early_release", verdict="agree", by=scene.cast.coach, created_at=NOW
    )
    after = get(scene.cast.student, path).json()
    assert list(after["signs"]) == ["early_release"]
    assert after["signs"]["early_release"]["verdicts"] == ["agree"]
    assert set(after["metrics"]) == set(whole["metrics"]) & numbers_behind({"early_release"})
    scene.cast.camp.students_see_trends = False
    scene.cast.camp.save()
    assert get(scene.cast.student, path).json()["metrics"] == {}


def test_numbers_wait_for_the_answer(scene: Scene, get: Get) -> None:
    response = get(scene.cast.student, f"/swings/{scene.swing.public_id}/readout")
    assert response.status_code == 409
    assert "answer" in response.json()["detail"]


def test_a_key_that_only_reads_cannot_write(scene: Scene, as_person: Callable[..., Client]) -> None:
    path, words = f"/api/v1/threads/{scene.thread.public_id}/messages", {"text": "Read at the range"}
    count = Message.objects.count()
    refused = as_person(scene.cast.student).post(path, words, content_type="application/json")
    assert refused.status_code == 403 and Message.objects.count() == count
    writer = as_person(scene.cast.student, may_write=True)
    again = {"text": "Read at the range", "id": str(uuid4())}
    first = writer.post(path, again, content_type="application/json")
    second = writer.post(path, again, content_type="application/json")
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json()["id"] == second.json()["id"] == again["id"]
    assert Message.objects.count() == count + 1


def test_an_organiser_reads_a_thread_and_does_not_write_in_it(
    scene: Scene, as_person: Callable[..., Client]
) -> None:
    path = f"/api/v1/threads/{scene.thread.public_id}/messages"
    writer = as_person(scene.cast.organiser, may_write=True)
    assert writer.post(path, {"text": "hello"}, content_type="application/json").status_code == 403


def test_a_signed_in_browser_without_a_key_gets_nothing(scene: Scene) -> None:
    client = Client()
    client.force_login(scene.cast.student)
    for path in ("/me", "/submissions", "/threads"):
        response = client.get(f"/api/v1{path}")
        assert response.status_code == 401
        # RFC 9110, section 11.6.1: a 401 names the scheme.
        assert response.headers["WWW-Authenticate"] == "Bearer"


def test_bad_input_is_named(scene: Scene, get: Get) -> None:
    response = get(scene.cast.student, "/submissions?limit=0&state=lost&sent_since=soon")
    assert response.status_code == 422
    wrong = " ".join(one["where"] for one in response.json()["wrong"])
    assert all(name in wrong for name in ("limit", "state", "sent_since"))
    naive = get(scene.cast.student, "/submissions?sent_since=2026-06-01T08:00:00")
    assert naive.status_code == 422 and "time zone" in naive.json()["detail"]


def test_figures_count_and_name_nobody(scene: Scene, get: Get) -> None:
    figures = get(scene.cast.coach, f"/cohorts/{scene.cast.cohort.public_id}/figures")
    body = figures.json()
    members = scene.cast.cohort.memberships.students().count()
    assert (body["students"], body["with_intake"], body["ever_sent"], body["answered"]) == (
        members,
        members,
        2,
        2,
    )
    assert scene.cast.student.name not in figures.content.decode()


def test_a_list_costs_no_more_queries_when_it_grows(
    scene: Scene, as_person: Callable[..., Client], django_assert_num_queries: Any
) -> None:
    from tests import factories

    client = as_person(scene.cast.coach)
    client.get("/api/v1/submissions")
    for _ in range(10):
        factories.make_review(factories.make_submission(scene.cast.student, scene.cast.cohort))
    with django_assert_num_queries(2):  # the key, the rows
        assert len(client.get("/api/v1/submissions").json()) == 13
