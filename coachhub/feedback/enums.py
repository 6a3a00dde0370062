from __future__ import annotations

from django.db.models import TextChoices


class ReviewState(TextChoices):
    COMING = "coming", "not ready for review"
    WAITING = "waiting", "waiting for a coach"
    CLAIMED = "claimed", "being reviewed"
    PUBLISHED = "published", "published"
    DROPPED = "dropped", "taken back by the student"


REVIEW_MOVES: dict[str, frozenset[str]] = {
    ReviewState.COMING: frozenset({ReviewState.WAITING, ReviewState.DROPPED}),
    ReviewState.WAITING: frozenset({ReviewState.CLAIMED, ReviewState.DROPPED}),
    ReviewState.CLAIMED: frozenset({ReviewState.WAITING, ReviewState.PUBLISHED, ReviewState.DROPPED}),
    ReviewState.PUBLISHED: frozenset(),
    ReviewState.DROPPED: frozenset(),
}


class ClockMove(TextChoices):
    START = "start", "started"
    PAUSE = "pause", "stands still"
    RESUME = "resume", "runs again"
    STOP = "stop", "stopped"


class RootKind(TextChoices):
    IDEA = "idea", "the student's idea of the strike"
    SET_UP = "set_up", "the set-up"
    BODY = "body", "the body"
    BACKSWING = "backswing", "the backswing"


class Confidence(TextChoices):
    SURE = "sure", "sure"
    LIKELY = "likely", "likely"
    GUESS = "guess", "a first guess"


class MarkKind(TextChoices):
    LINE = "line", "line"
    ANGLE = "angle", "angle"
    ELLIPSE = "ellipse", "ellipse"
    ARROW = "arrow", "arrow"
    PATH = "path", "freehand"
    TEXT = "text", "text"


class Lock(TextChoices):
    """What holds two swings together while one plays."""

    EVENTS = "events", "by the swing's events"
    OFFSET = "offset", "by hand"
    ALONE = "alone", "each alone"


class Layout(TextChoices):
    BESIDE = "beside", "side by side"
    OVER = "over", "one over the other"


class MessageKind(TextChoices):
    FEEDBACK = "feedback", "feedback"
    REPLY = "reply", "reply"
    NOTE = "note", "note"


class PracticeKind(TextChoices):
    DONE = "done", "practised"
    UNCLEAR = "unclear", "I don't understand"
    HURTS = "hurts", "this hurts"
