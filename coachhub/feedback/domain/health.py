"""What a student said about pain, as far as queue and drills need it. No diagnosis: a person reads the words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from coachhub.accounts.enums import PainNow, PainSite, RedFlag
from coachhub.accounts.models import Intake, User
from coachhub.feedback.domain.ticks import standing_flags
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.videos.models import Submission

UNREVIEWED = (ReviewState.COMING, ReviewState.WAITING, ReviewState.CLAIMED)


@dataclass(frozen=True)
class Health:
    """The newest answers of a student together with those of one submission."""

    red_flags: tuple[str, ...]
    sites_now: frozenset[str]
    sites_past: frozenset[str]
    pain_now: bool
    # Somebody said where it hurts or hurt, or that nothing does.
    back_answered: bool
    words: tuple[str, ...]

    @property
    def has_red_flag(self) -> bool:
        return bool(self.red_flags)

    @property
    def site_unknown(self) -> bool:
        return self.pain_now and not self.sites_now

    def red_flag_words(self) -> list[str]:
        return [str(RedFlag(flag).label) for flag in self.red_flags]

    def site_words(self) -> list[str]:
        return [str(PainSite(site).label) for site in sorted(self.sites_now)]

    def past_site_words(self) -> list[str]:
        return [str(PainSite(site).label) for site in sorted(self.sites_past)]


def health_of(submission: Submission, intake: Intake | None = None) -> Health:
    """``intake``: the student's newest one, if the caller has it at hand."""
    intake = intake or latest_intake(submission.student_id)
    sites = frozenset(intake.pain_sites) if intake else frozenset()
    hurts = intake is not None and intake.pain == PainNow.NOW
    told = standing_flags(submission.student_id, submission.camp.public_id, intake, [submission])
    pain_now = submission.pain_today or hurts or bool(told)
    return Health(
        red_flags=tuple(told),
        sites_now=sites if pain_now else frozenset(),
        sites_past=sites if intake and intake.pain == PainNow.PAST and not pain_now else frozenset(),
        pain_now=pain_now,
        back_answered=_back_answered(submission, intake),
        words=tuple(
            words for words in (intake.pain_words if intake else "", submission.pain_words) if words.strip()
        ),
    )


def _back_answered(submission: Submission, intake: Intake | None) -> bool:
    if intake is None:
        return False
    quiet = intake.pain == PainNow.NONE and not submission.pain_today
    return quiet or bool(intake.pain_sites)


def latest_intake(student_id: int) -> Intake | None:
    return Intake.objects.filter(user_id=student_id).first()


def health_changed(student: User, *, now: datetime) -> int:
    """New answers about pain: what still waits for a coach is sorted anew. Returns how many reviews changed."""
    changed = 0
    waiting = Review.objects.filter(submission__student=student, state__in=UNREVIEWED)
    intake = latest_intake(student.pk)
    for review in waiting.select_related("submission"):
        health = health_of(review.submission, intake)
        # A flag is only ever raised here; taking one back is for a person who asked.
        red, pain = review.has_red_flag or health.has_red_flag, review.has_pain or health.pain_now
        changed += (
            Review.objects.filter(pk=review.pk)
            .exclude(has_red_flag=red, has_pain=pain)
            .update(has_red_flag=red, has_pain=pain)
        )
    return changed
