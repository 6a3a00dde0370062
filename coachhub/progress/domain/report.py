"""What a student's report on paper says: only what went out to the student, whoever prints it. Bounded, so that a long
camp makes no long wait."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from coachhub.accounts.domain.health import Advice, advice_for
from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.feedback.domain.adherence import Assignment, Week, assignments_of
from coachhub.feedback.domain.finding import Step, chain
from coachhub.feedback.domain.health import latest_intake
from coachhub.feedback.domain.junior_load import JuniorLoad, junior_load
from coachhub.feedback.domain.ticks import standing_flags
from coachhub.feedback.domain.versions import answered_findings
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import FindingVersion, Review
from coachhub.progress.domain.judged import Status, answered, judged_submissions
from coachhub.progress.domain.readable import numbers_behind
from coachhub.progress.domain.trends import Trend, metric_trends
from coachhub.swings.models import Readout
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission

MOST_SESSIONS, MOST_TRENDS, MOST_DRILLS = 20, 6, 4
HIDDEN = (SubmissionState.OPEN, SubmissionState.WITHDRAWN)


@dataclass(frozen=True)
class Session:
    submission: Submission
    # The answer, if it is out.
    review: Review | None
    # Signs that a coach confirmed in it.
    signs: tuple[str, ...]


@dataclass(frozen=True)
class Drill:
    given: Assignment
    # The student told of pain, now or before, at a place that this drill loads. Which one is not for paper.
    loads_a_sore_place: bool
    ends_on: date

    @property
    def weeks(self) -> list[Week]:
        """Full weeks that began while the camp was on."""
        return [week for week in self.given.full_weeks if week.starts_on <= self.ends_on]

    @property
    def kept_weeks(self) -> int:
        return sum(week.is_kept for week in self.weeks)


@dataclass(frozen=True)
class Plan:
    """``review``: the newest answer that names something to do."""

    review: Review | None
    drills: tuple[Drill, ...]
    load: JuniorLoad | None


@dataclass(frozen=True)
class StudentReport:
    place: Membership
    sessions: tuple[Session, ...]
    earlier_sessions: int
    coaches: tuple[str, ...]
    finding: FindingVersion | None
    steps: tuple[Step, ...]
    # Readouts of the newest answer and, filmed from the same views, of the first one.
    shown: tuple[tuple[Review, Readout], ...]
    shows_numbers: bool
    trends: tuple[Trend, ...]
    more_trends: int
    plan: Plan
    advice: Advice | None

    @property
    def student(self) -> User:
        return self.place.user

    @property
    def camp(self) -> Camp:
        return self.place.camp

    @property
    def answers(self) -> int:
        return sum(session.review is not None for session in self.sessions)

    @property
    def days(self) -> tuple[date, date] | None:
        """The first and the last range day."""
        days = [session.submission.range_day for session in self.sessions]
        return (min(days), max(days)) if days else None

    @property
    def first_day(self) -> date | None:
        return self.days[0] if self.days else None

    @property
    def last_day(self) -> date | None:
        return self.days[1] if self.days else None


def student_report(place: Membership, reader: User, *, now: datetime) -> StudentReport:
    """For somebody who was let to this student; staff read the numbers also where the camp keeps them from students."""
    student, camp = place.user, place.camp
    reviews = _answers(place, reader)
    sent = _sent(place)
    signs = _confirmed(student, camp)
    sessions = [
        Session(one, reviews.get(one.pk), tuple(signs.get(one.pk, ())) if one.pk in reviews else ())
        for one in sent
    ]
    finding = answered_findings(student, camp).last()
    numbers = shows_numbers(place, reader)
    trends = _trends(student, camp, signs) if numbers else []
    return StudentReport(
        place=place,
        sessions=tuple(sessions[-MOST_SESSIONS:]),
        earlier_sessions=max(0, len(sessions) - MOST_SESSIONS),
        coaches=tuple(dict.fromkeys(one.published_by.name for one in reviews.values() if one.published_by)),
        finding=finding,
        steps=tuple(chain(finding)),
        shown=tuple(_shown(list(reviews.values()), reader)),
        shows_numbers=numbers,
        trends=tuple(trends[:MOST_TRENDS]),
        more_trends=max(0, len(trends) - MOST_TRENDS),
        plan=_plan(place, list(reviews.values()), now),
        advice=_advice(place, sent),
    )


def shows_numbers(place: Membership, reader: User) -> bool:
    assert place.cohort is not None
    staffed = Cohort.objects.staffed_by(reader).filter(pk=place.cohort.pk)
    return place.camp.students_see_trends or staffed.exists()


def _answers(place: Membership, reader: User) -> dict[int, Review]:
    """By submission, in the order in which they went out."""
    seen = Review.objects.visible_to(reader).filter(
        submission__student=place.user, submission__camp=place.camp, state=ReviewState.PUBLISHED
    )
    rows = seen.select_related("submission", "published_by", "drill").order_by("published_at", "pk")
    return {review.submission_id: review for review in rows}


def _sent(place: Membership) -> list[Submission]:
    rows = Submission.objects.filter(student=place.user, camp=place.camp).exclude(state__in=HIDDEN)
    return list(rows.order_by("range_day", "pk"))


def _confirmed(student: User, camp: Camp) -> dict[int, list[str]]:
    own = answered(camp, Cohort.objects.filter(camp=camp), own=student)
    return {
        one.submission_id: [sign for sign, status in one.signs.items() if status == Status.CONFIRMED]
        for one in judged_submissions(camp, own)
    }


def _trends(student: User, camp: Camp, signs: dict[int, list[str]]) -> list[Trend]:
    """Of the numbers behind confirmed signs alone; those over several days first."""
    wanted = numbers_behind(sign for found in signs.values() for sign in found)
    found = metric_trends(student, camp, wanted) if wanted else []
    return sorted(found, key=lambda trend: -len(trend.points))


def _shown(reviews: list[Review], reader: User) -> Iterable[tuple[Review, Readout]]:
    """One swing of each view: of the newest answer that has pictures, and of the first one of the same club."""
    newest: tuple[Review, dict[str, Readout]] | None = None
    for review in reversed(reviews):
        found = _pictured(review, reader)
        if found:
            newest = review, found
            break
    if newest is None:
        return
    last, now = newest
    yield from ((last, readout) for readout in now.values())
    for review in reviews:
        same_club = review.submission.club_class == last.submission.club_class
        if not same_club or review.submission.range_day >= last.submission.range_day:
            continue
        found = {view: readout for view, readout in _pictured(review, reader).items() if view in now}
        if found:
            yield from ((review, readout) for readout in found.values())
            return


def _pictured(review: Review, reader: User) -> dict[str, Readout]:
    """View to the swing that the coach pointed at, else to the first one; as measured when the answer went out."""
    pointed = {*review.marks.values_list("swing_id", flat=True)}
    pointed |= {*review.moments.values_list("swing_id", flat=True)}
    rows = (
        Readout.objects.visible_to(reader)
        .filter(swing__clip__submission=review.submission_id)
        .shown(review.published_at)
        .filter(data__pictures__isnull=False)
        .select_related("run", "swing__clip")
        .order_by("swing__clip__number", "swing__number")
    )
    found: dict[str, Readout] = {}
    for readout in sorted(rows, key=lambda row: row.swing_id not in pointed):
        found.setdefault(readout.swing.clip.view, readout)
    return found


def _plan(place: Membership, reviews: list[Review], now: datetime) -> Plan:
    asking = [review for review in reviews if review.priority or review.drill_id]
    intake = latest_intake(place.user_id)
    sore = set(intake.pain_sites) if intake else set()
    given = assignments_of(place.user, place.camp, now=now)
    drills = [
        Drill(one, bool(one.review.drill and sore & set(one.review.drill.avoid_sites)), place.camp.ends_on)
        for one in given[:MOST_DRILLS]
    ]
    return Plan(asking[-1] if asking else None, tuple(drills), junior_load(place.user, place.camp, now=now))


def _advice(place: Membership, sent: list[Submission]) -> Advice | None:
    """Alerts that still stand: from the answers about oneself and the newest range session."""
    intake = latest_intake(place.user_id)
    return advice_for(standing_flags(place.user_id, place.camp.public_id, intake, sent[-1:]))
