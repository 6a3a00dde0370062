from __future__ import annotations

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _


class Units(TextChoices):
    """In which lengths are told to a person."""

    METRIC = "metric", _("metres and centimetres")
    YARDS = "yards", _("yards and inches")


class Hand(TextChoices):
    RIGHT = "right", "right-handed"
    LEFT = "left", "left-handed"


class AgeBand(TextChoices):
    UNDER_18 = "under_18", "under 18"
    ADULT = "18_39", "18 to 39"
    MIDDLE = "40_59", "40 to 59"
    SENIOR = "60_plus", "60 or over"


class Level(TextChoices):
    BEGINNER = "beginner", "just starting"
    HIGH = "high", "handicap over 20, or scores over 100"
    MIDDLE = "middle", "handicap 10 to 20"
    LOW = "low", "handicap under 10"


class PainNow(TextChoices):
    NONE = "none", "no pain"
    PAST = "past", "pain in the past, none now"
    NOW = "now", "pain now"


class PainSite(TextChoices):
    LOW_BACK = "low_back", "lower back"
    UPPER_BACK = "upper_back", "upper back or neck"
    SHOULDER = "shoulder", "shoulder"
    ELBOW = "elbow", "elbow"
    WRIST = "wrist", "wrist, hand or thumb"
    HIP = "hip", "hip"
    KNEE = "knee", "knee"
    ANKLE = "ankle", "ankle or foot"
    OTHER = "other", "somewhere else"


class RedFlag(TextChoices):
    """General medical consensus, from memory: each means "stop and see a clinician", never a diagnosis."""

    NIGHT = "night", "pain that wakes me at night"
    NUMB = "numb", "numbness, weakness or tingling down a leg or arm"
    BLADDER = "bladder", "trouble with bladder or bowel control"
    FEVER = "fever", "fever or losing weight without wanting to"
    FALL = "fall", "pain since a fall or a blow"
    CHEST = "chest", "chest pain or being short of breath"
    LOCKING = "locking", "a joint that swells, locks or gives way"
    WRIST_CLICK = "wrist_click", "wrist pain with clicking, or a sore spot at the base of the palm"
    # Of minors only (DiFiori et al. 2014: persistent back pain in the young is referred).
    LASTING = "lasting", "under 18: pain for more than two weeks"


URGENT_FLAGS = frozenset({RedFlag.BLADDER, RedFlag.CHEST})


class AlertGround(TextChoices):
    """Why a pain alert no longer stands. That it went away by itself is none: that is for a clinician to say."""

    SEEN = "seen", "a clinician has seen it and allows swings"
    MISTAKE = "mistake", "it was ticked by mistake"


class AttemptKind(TextChoices):
    SIGN_IN = "sign_in", "a wrong password"
    RESET = "reset", "a password letter"
    CODE = "code", "a wrong code of the second factor"
    INVITE = "invite", "an invitation"
    UPLOAD = "upload", "a begun upload"
    ADDRESS = "address", "a letter to a new address"


class Purpose(TextChoices):
    """What somebody may agree to. Each is asked, given and withdrawn alone."""

    ANALYSIS = "analysis", _("storing and measuring the videos")
    FEEDBACK = "feedback", _("coaches and organisers seeing the videos and answers")
    COHORT = "cohort", _("showing a swing to the cohort as an example")


class ConsentVoice(TextChoices):
    SELF = "self", _("the person")
    GUARDIAN = "guardian", _("a guardian")


class GuardianState(TextChoices):
    INVITED = "invited", _("invited")
    ACTIVE = "active", _("guardian")
    SHARED = "shared", _("reads along")
    WITHDRAWN = "withdrawn", _("invitation withdrawn")
    GROWN = "grown", _("ended: the child came of age")
    ENDED = "ended", _("ended")


GUARDIAN_MOVES: dict[str, frozenset[str]] = {
    GuardianState.INVITED: frozenset({GuardianState.ACTIVE, GuardianState.WITHDRAWN}),
    GuardianState.ACTIVE: frozenset({GuardianState.GROWN, GuardianState.ENDED}),
    GuardianState.GROWN: frozenset({GuardianState.SHARED}),
    GuardianState.SHARED: frozenset({GuardianState.ENDED}),
    GuardianState.WITHDRAWN: frozenset(),
    GuardianState.ENDED: frozenset(),
}


class NoticeKind(TextChoices):
    """What there is to tell. The label is all that a letter says of it."""

    ANSWER = "answer", "Your coach has answered"
    QUESTION = "question", "Your coach asks you something"
    MESSAGE = "message", "There is a new message for you"
    LESSON = "lesson", "Your coach has a lesson for you"
    REFILM = "refilm", "A clip must be filmed again"
    TASK = "task", "A task of your camp is due"
    LATE = "late", "A task of your camp is overdue"
    STALE = "stale", "Please look over your answers"
    CONSENT = "consent", "Your consent is asked for"
    CASE = "case", "There is a new case to look at"
    HURTS = "hurts", "Somebody says that a drill hurts"
    CONCERN = "concern", "Somebody reports a concern"
    REPLIED = "replied", "Your concern was taken up or answered"
    WORK = "work", "Reviews were given over to you"
    READY = "ready", "A file that you asked for is ready"
    UNREADABLE = "unreadable", "A recording can't be used"


class Rhythm(TextChoices):
    AT_ONCE = "at_once", "at once"
    DAILY = "daily", "once a day, all together"
    WEEKLY = "weekly", "once a week, all together"
    NEVER = "never", "never"


class MailState(TextChoices):
    WAITING = "waiting", "waits"
    SENT = "sent", "sent"
    NONE = "none", "not by mail"
