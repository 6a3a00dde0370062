"""Whose turn it is, and why: one sentence on top of the student's page, others below it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from coachhub.videos.enums import SubmissionState

QUIET_AFTER = timedelta(days=7)


@dataclass(frozen=True)
class Sent:
    """What the page needs to know of one submission."""

    address: str
    state: str
    label: str
    has_clips: bool = False
    is_checking: bool = False
    due_at: datetime | None = None
    is_being_reviewed: bool = False


@dataclass(frozen=True)
class Turn:
    whose: str
    title: str
    reason: str
    action: str = ""
    address: str = ""
    due_at: datetime | None = None
    # Without an action, the address leads to what was sent, or to the talk.
    opens_talk: bool = False


@dataclass(frozen=True)
class Facts:
    submissions: tuple[Sent, ...]
    unread_answers: tuple[tuple[str, str], ...]
    question_address: str
    unread_address: str
    waiting_reply_address: str
    new_address: str
    last_sent_at: datetime | None
    may_send: bool
    now: datetime


def turns(facts: Facts) -> list[Turn]:
    """Most urgent first: what the student can do now, then what others do, then a nudge."""
    own = [*_answers(facts), *_refilm(facts), *_question(facts), *_unsent(facts)]
    others = [*_with_coach(facts), *_reply_waits(facts), *_being_checked(facts)]
    return [*own, *others] or [_nothing_waits(facts)]


def _answers(facts: Facts) -> list[Turn]:
    return [
        Turn("yours", "Your coach has answered", label, "Read the answer", address)
        for label, address in facts.unread_answers
    ]


def _refilm(facts: Facts) -> list[Turn]:
    reason = "None of the clips can be used. Each says why, and how to film it."
    return [
        Turn("yours", "Film again", f"{sent.label}: {reason}", "See what to change", sent.address)
        for sent in facts.submissions
        if sent.state == SubmissionState.REFILM and not sent.is_checking
    ]


def _question(facts: Facts) -> list[Turn]:
    if facts.question_address:
        reason = "Your coach asked you something and goes on when you have answered."
        return [Turn("yours", "Answer your coach", reason, "Read and reply", facts.question_address)]
    if facts.unread_address:
        return [
            Turn(
                "yours", "Your coach wrote to you", "There is a new message.", "Read it", facts.unread_address
            )
        ]
    return []


def _unsent(facts: Facts) -> list[Turn]:
    found = []
    for sent in facts.submissions:
        if sent.state != SubmissionState.OPEN:
            continue
        if sent.has_clips:
            found.append(
                Turn("yours", "Not sent yet", f"{sent.label}: clips are here.", "Look and send", sent.address)
            )
        else:
            found.append(Turn("yours", "Add your clips", f"{sent.label}: begun.", "Add clips", sent.address))
    return found


def _with_coach(facts: Facts) -> list[Turn]:
    return [_coach_turn(sent) for sent in facts.submissions if sent.state == SubmissionState.USABLE]


def _coach_turn(sent: Sent) -> Turn:
    doing = "is looking at it now" if sent.is_being_reviewed else "has it"
    return Turn(
        "coach", "Your coach's turn", f"{sent.label}: your coach {doing}.", "", sent.address, sent.due_at
    )


def _reply_waits(facts: Facts) -> list[Turn]:
    if not facts.waiting_reply_address:
        return []
    reason = "You wrote to your coach, who has not answered yet."
    return [Turn("coach", "Your coach's turn", reason, "", facts.waiting_reply_address, opens_talk=True)]


def _being_checked(facts: Facts) -> list[Turn]:
    return [
        Turn(
            "site", "Being checked", f"{sent.label}: we check and measure your clips.", "See how far",
            sent.address,
        )
        for sent in facts.submissions
        if sent.state == SubmissionState.SENT or (sent.state == SubmissionState.REFILM and sent.is_checking)
    ]  # fmt: skip


def _nothing_waits(facts: Facts) -> Turn:
    if not facts.may_send:
        return Turn("nobody", "Nothing is waiting", "You can read everything here, but not send.")
    if facts.last_sent_at is None:
        return Turn(
            "yours", "Send your first swings", "Three swings with one club are a good start.",
            "Send new swings", facts.new_address,
        )  # fmt: skip
    if facts.now - facts.last_sent_at >= QUIET_AFTER:
        return Turn(
            "yours", "Nothing sent this week", "Film a few swings the next time you are at the range.",
            "Send new swings", facts.new_address,
        )  # fmt: skip
    return Turn(
        "nobody", "Nothing is waiting", "Practise the one thing you were given, then film again.",
        "Send new swings", facts.new_address,
    )  # fmt: skip
