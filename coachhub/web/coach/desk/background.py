"""What the coach should have in mind: who this is, what hurts, what was tried, and what was thought last time."""

from __future__ import annotations

from dataclasses import dataclass

from coachhub.accounts.enums import AgeBand, Hand, Level
from coachhub.accounts.models import Intake
from coachhub.common.wording import say
from coachhub.feedback.domain.finding import Step, chain, miss_sentence
from coachhub.feedback.domain.health import Health, health_of, latest_intake
from coachhub.feedback.domain.versions import last_answered, word_here
from coachhub.feedback.enums import Confidence, PracticeKind, ReviewState
from coachhub.feedback.models import Finding, FindingVersion, FindingWord, Practice, Review, SayBack
from coachhub.videos.enums import Intent
from coachhub.videos.models import Submission


@dataclass(frozen=True)
class LastTime:
    review: Review
    # As it went out, with what this submission says of it so far.
    version: FindingVersion | None
    word: FindingWord | None
    say_backs: tuple[SayBack, ...]
    steps: tuple[Step, ...]
    sure: str
    practised: int
    unclear: int
    hurts: int


@dataclass(frozen=True)
class Background:
    facts: tuple[tuple[str, str], ...]
    health: Health
    miss: str
    intents: tuple[str, ...]
    last: LastTime | None


def background_of(review: Review) -> Background:
    submission = review.submission
    intake = latest_intake(submission.student_id)
    return Background(
        facts=tuple(_facts(intake)),
        health=health_of(submission, intake),
        miss=miss_sentence(submission),
        intents=_intents(submission),
        last=_last_time(review),
    )


def _facts(intake: Intake | None) -> list[tuple[str, str]]:
    if intake is None:
        return [("Intake", "not answered")]
    rows = [
        ("Plays", str(Hand(intake.handedness).label)),
        ("Age", str(AgeBand(intake.age_band).label)),
        ("Level", str(Level(intake.level).label)),
        ("Practice", say(f"{intake.practice_hours} h a week")),
        ("Goals", intake.goals),
    ]
    return [(name, text) for name, text in rows if text]


def _intents(submission: Submission) -> tuple[str, ...]:
    labels = dict(Intent.choices)
    return tuple(str(labels.get(value, value)) for value in submission.intents)


def _last_time(review: Review) -> LastTime | None:
    submission = review.submission
    last = (
        Review.objects.filter(
            submission__student=submission.student_id,
            submission__camp=submission.camp_id,
            state=ReviewState.PUBLISHED,
        )
        .exclude(pk=review.pk)
        .select_related("drill", "submission")
        .order_by("-published_at")
        .first()
    )
    if last is None:
        return None
    finding = Finding.objects.filter(review=last).first()
    version = last_answered(review)
    kinds = list(Practice.objects.filter(review=last).values_list("kind", flat=True))
    sure = str(Confidence(finding.confidence).label) if finding and finding.confidence else ""
    return LastTime(
        review=last,
        version=version,
        word=word_here(version, review) if version else None,
        say_backs=tuple(last.say_backs.select_related("message")),
        steps=tuple(chain(finding)),
        sure=sure,
        practised=kinds.count(PracticeKind.DONE),
        unclear=kinds.count(PracticeKind.UNCLEAR),
        hurts=kinds.count(PracticeKind.HURTS),
    )
