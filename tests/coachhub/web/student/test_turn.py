from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from coachhub.videos.enums import SubmissionState
from coachhub.web.student.turn import Facts, Sent, turns
from tests.factories import NOW

pytestmark = pytest.mark.unit


def facts(*submissions: Sent, **more: Any) -> Facts:
    defaults: dict[str, Any] = {
        "submissions": submissions,
        "unread_answers": (),
        "question_address": "",
        "unread_address": "",
        "waiting_reply_address": "",
        "new_address": "/my/new/",
        "last_sent_at": NOW - timedelta(days=1),
        "may_send": True,
        "now": NOW,
    }
    return Facts(**defaults | more)


def sent(state: str, **more: Any) -> Sent:
    return Sent(f"/my/sent/{state}/", state, "Iron, Tue 9 Jun", **more)


# The one thing on top of the page: whose turn, and the words of its title.
TABLE = (
    (facts(last_sent_at=None), "yours", "Send your first swings"),
    (facts(last_sent_at=NOW - timedelta(days=7)), "yours", "Nothing sent this week"),
    (facts(last_sent_at=NOW - timedelta(days=6)), "nobody", "Nothing is waiting"),
    (facts(may_send=False, last_sent_at=None), "nobody", "Nothing is waiting"),
    (facts(sent(SubmissionState.OPEN)), "yours", "Add your clips"),
    (facts(sent(SubmissionState.OPEN, has_clips=True)), "yours", "Not sent yet"),
    (facts(sent(SubmissionState.SENT)), "site", "Being checked"),
    (facts(sent(SubmissionState.USABLE)), "coach", "Your coach's turn"),
    (facts(sent(SubmissionState.REFILM)), "yours", "Film again"),
    (facts(sent(SubmissionState.REFILM, is_checking=True)), "site", "Being checked"),
    (facts(sent(SubmissionState.ANSWERED)), "nobody", "Nothing is waiting"),
    (facts(question_address="/my/thread/"), "yours", "Answer your coach"),
    (facts(unread_address="/my/thread/"), "yours", "Your coach wrote to you"),
    (facts(waiting_reply_address="/my/thread/"), "coach", "Your coach's turn"),
)


@pytest.mark.parametrize(("given", "whose", "title"), TABLE)
def test_whose_turn_it_is(given: Facts, whose: str, title: str) -> None:
    first = turns(given)[0]
    assert (first.whose, first.title) == (whose, title)


def test_an_unread_answer_comes_before_everything() -> None:
    given = facts(
        sent(SubmissionState.USABLE),
        sent(SubmissionState.REFILM),
        sent(SubmissionState.OPEN, has_clips=True),
        sent(SubmissionState.SENT),
        unread_answers=(("Driver, Mon 8 Jun", "/my/answers/x/"),),
        question_address="/my/thread/",
    )
    assert [turn.title for turn in turns(given)] == [
        "Your coach has answered",
        "Film again",
        "Answer your coach",
        "Not sent yet",
        "Your coach's turn",
        "Being checked",
    ]


def test_the_promise_is_told() -> None:
    due = NOW + timedelta(hours=20)
    turn = turns(facts(sent(SubmissionState.USABLE, due_at=due, is_being_reviewed=True)))[0]
    assert (turn.due_at, turn.reason) == (due, "Iron, Tue 9 Jun: your coach is looking at it now.")


def test_a_student_who_may_not_send_is_not_told_to() -> None:
    assert turns(facts(may_send=False))[0].address == ""
