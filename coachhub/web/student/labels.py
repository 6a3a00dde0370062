from __future__ import annotations

from coachhub.feedback.enums import RootKind
from coachhub.videos.enums import ClubClass, MissCurve, MissHeight, MissStart, MissStrike
from coachhub.videos.models import Submission


def submission_label(submission: Submission) -> str:
    club = ClubClass(submission.club_class).label
    return (
        f"{club.capitalize()}, {submission.range_day:%a} {submission.range_day.day} {submission.range_day:%b}"
    )


def miss_words(submission: Submission) -> str:
    """The miss as the student said it: "starts left, flies straight, thin"."""
    said = (
        MissStart(submission.miss_start).label if submission.miss_start else "",
        MissCurve(submission.miss_curve).label if submission.miss_curve else "",
        _strike(submission.miss_strike),
        MissHeight(submission.miss_height).label if submission.miss_height else "",
    )
    return ", ".join(word for word in said if word)


def _strike(value: str) -> str:
    return f"strike {MissStrike(value).label}" if value else ""


YOUR_ROOT = {
    RootKind.IDEA: "your idea of the strike",
    RootKind.SET_UP: "your set-up",
    RootKind.BODY: "what your body does",
    RootKind.BACKSWING: "your backswing",
}


def root_words(kind: str) -> str:
    return YOUR_ROOT[RootKind(kind)] if kind else ""
