from __future__ import annotations

from django.db.models import TextChoices


class View(TextChoices):
    FACE_ON = "face_on", "face-on"
    DOWN_THE_LINE = "dtl", "down-the-line"


class ClubClass(TextChoices):
    WEDGE = "wedge", "wedge"
    IRON = "iron", "iron"
    HYBRID = "hybrid", "hybrid"
    FAIRWAY = "fairway", "fairway wood"
    DRIVER = "driver", "driver"


class MissStart(TextChoices):
    LEFT = "left", "starts left"
    STRAIGHT = "straight", "starts on line"
    RIGHT = "right", "starts right"
    BOTH = "both", "starts both ways"


class MissCurve(TextChoices):
    LEFT = "left", "curves left"
    NONE = "none", "flies straight"
    RIGHT = "right", "curves right"
    BOTH = "both", "curves both ways"


class MissStrike(TextChoices):
    CLEAN = "clean", "clean"
    FAT = "fat", "fat: ground before ball"
    THIN = "thin", "thin: low on the face"
    TOP = "top", "topped: it rolls"
    HEEL = "heel", "heel or shank"
    TOE = "toe", "toe"


class MissHeight(TextChoices):
    NORMAL = "normal", "usual height"
    HIGH = "high", "high and short"
    LOW = "low", "too low"


class Intent(TextChoices):
    """What the student tries to do; each value but the last two is a belief node of the cause map."""

    LIFT = "bel_lift", "help the ball up into the air"
    HEAD_DOWN = "bel_headdown", "keep my head down until well after the strike"
    ARMS_POWER = "bel_armspower", "hit hard with my arms and hands"
    WEIGHT_BACK = "bel_weightback", "stay behind the ball"
    STEER = "bel_steerleft", "aim or swing away from my miss"
    SHOULDERS_FIRST = "bel_shoulders_first", "turn my shoulders hard from the top"
    BIG_TURN = "bel_bigturn", "make my backswing as long as I can"
    STRAIGHT_LINE = "bel_straightline", "swing the club straight along the target line"
    NOTHING = "nothing", "nothing special, just hit it"
    OTHER = "other", "something else (in my words)"


class SubmissionState(TextChoices):
    OPEN = "open", "being put together"
    SENT = "sent", "being checked"
    USABLE = "usable", "with your coach"
    REFILM = "refilm", "needs filming again"
    ANSWERED = "answered", "answered"
    WITHDRAWN = "withdrawn", "taken back"


SUBMISSION_MOVES: dict[str, frozenset[str]] = {
    SubmissionState.OPEN: frozenset({SubmissionState.SENT, SubmissionState.WITHDRAWN}),
    SubmissionState.SENT: frozenset(
        {SubmissionState.USABLE, SubmissionState.REFILM, SubmissionState.WITHDRAWN}
    ),
    SubmissionState.REFILM: frozenset(
        {SubmissionState.SENT, SubmissionState.USABLE, SubmissionState.WITHDRAWN}
    ),
    SubmissionState.USABLE: frozenset({SubmissionState.ANSWERED, SubmissionState.WITHDRAWN}),
    SubmissionState.ANSWERED: frozenset(),
    SubmissionState.WITHDRAWN: frozenset(),
}


class ClipState(TextChoices):
    RECEIVED = "received", "received"
    PLAYABLE = "playable", "plays, being measured"
    USABLE = "usable", "usable"
    REFUSED = "refused", "can't be used"


CLIP_MOVES: dict[str, frozenset[str]] = {
    ClipState.RECEIVED: frozenset({ClipState.PLAYABLE, ClipState.REFUSED}),
    ClipState.PLAYABLE: frozenset({ClipState.USABLE, ClipState.REFUSED}),
    ClipState.USABLE: frozenset(),
    # A coach may look at a clip that the gate refused.
    ClipState.REFUSED: frozenset({ClipState.USABLE}),
}


class ClipWork(TextChoices):
    CHECK = "check", "check that it plays"
    RENDITION = "rendition", "make it play everywhere"


class UploadState(TextChoices):
    GROWING = "growing", "arriving"
    COMPLETE = "complete", "complete"
    GONE = "gone", "ended"


class ReferenceKind(TextChoices):
    SWING = "swing", "a whole swing"
    HANDS = "hands", "a demonstration of the hands"
    SET_UP = "set_up", "a demonstration of the set-up"
    MOVEMENT = "movement", "a demonstration of a movement"


MOST_CLIPS = 6
