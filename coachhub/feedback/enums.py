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


class MarkWeight(TextChoices):
    """How thick a drawing's line is. A pen that is pressed harder draws the stronger one."""

    THIN = "thin", "thin"
    NORMAL = "normal", "normal"
    STRONG = "strong", "strong"


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
    GUARDIAN = "guardian", "from a guardian"


class PracticeKind(TextChoices):
    DONE = "done", "practised"
    UNCLEAR = "unclear", "I don't understand"
    HURTS = "hurts", "this hurts"


class ParkedState(TextChoices):
    PARKED = "parked", "for later"
    TAKEN_UP = "taken_up", "taken up"
    DROPPED = "dropped", "no longer needed"


class VersionKind(TextChoices):
    ANSWER = "answer", "sent with the answer"
    OPINION = "opinion", "a second opinion"


class Fate(TextChoices):
    """What a later range session says of an earlier finding."""

    CONFIRMED = "confirmed", "still so"
    REVISED = "revised", "seen differently now"
    RESOLVED = "resolved", "gone"
    OPEN = "open", "can't tell yet"


class Reading(TextChoices):
    """What a coach reads in a student's own words about one idea."""

    SHOWS = "shows", "shows this idea"
    NOT_SO = "not_so", "speaks against it"
    OPEN = "open", "leaves it open"


class Grasp(TextChoices):
    UNDERSTOOD = "understood", "understood"
    NOT_YET = "not_yet", "not yet"


class Ground(TextChoices):
    """What students have in common when one lesson goes to all of them."""

    MISS = "miss", "the same miss"
    SIGN = "sign", "the same confirmed sign"
    IDEA = "idea", "the same idea"


class CaseState(TextChoices):
    DRAFT = "draft", "to be looked through"
    APPROVED = "approved", "looked through"
    POSTED = "posted", "shown"


# Taken down is deleted: nothing of a case is left then.
CASE_MOVES: dict[str, frozenset[str]] = {
    CaseState.DRAFT: frozenset({CaseState.APPROVED}),
    CaseState.APPROVED: frozenset({CaseState.DRAFT, CaseState.POSTED}),
    CaseState.POSTED: frozenset(),
}
