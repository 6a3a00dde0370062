"""Play the steps of the story: each is one or a few verbs of the domain, with the time it has in the story."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from analysis.causes import cause_map
from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Membership
from coachhub.common.models import Event
from coachhub.feedback.domain import reviews
from coachhub.feedback.domain.ideas import idea_words, judge_grasp, say_it_back
from coachhub.feedback.domain.marks import save_marks
from coachhub.feedback.domain.practice import log_practice
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.domain.versions import last_answered, say_fate
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Drill, Review
from coachhub.progress.demo import points
from coachhub.progress.demo.scenario import Calendar, Data, Scenario, Student, submission_id
from coachhub.progress.demo.sketches import moment, sketch
from coachhub.swings.domain.judgements import judge_sign
from coachhub.swings.enums import SignLevel, Verdict
from coachhub.swings.models import SignFlag, Swing
from coachhub.videos.domain.submissions import open_submission
from coachhub.videos.forms import ANSWER_FIELDS
from coachhub.videos.models import Submission

FLAGGED = (SignLevel.LIKELY, SignLevel.POSSIBLE)


@dataclass(frozen=True)
class Stage:
    """The camp in which the story plays."""

    scenario: Scenario
    camp: Camp
    calendar: Calendar
    people: dict[str, User]

    def at(self, step: Data) -> datetime:
        return self.calendar.at(step["day"], step.get("time", "12:00"))

    def review(self, key: str) -> Review:
        return Review.objects.get(submission__public_id=submission_id(key))


def stage_of(scenario: Scenario, camp: Camp, calendar: Calendar) -> Stage:
    emails = {person["key"]: person["email"] for person in scenario.staff}
    emails |= {student.key: student.person["email"] for student in scenario.students}
    by_email = {user.email: user for user in User.objects.filter(memberships__camp=camp).distinct()}
    return Stage(scenario, camp, calendar, {key: by_email[email] for key, email in emails.items()})


def opened(stage: Stage, student: Student, step: Data) -> Submission:
    """The submission of a "send" step, opened at its time; the clips come by the caller."""
    user = stage.people[student.key]
    place = Membership.objects.select_related("cohort").get(camp=stage.camp, user=user)
    assert place.cohort is not None
    return open_submission(
        user,
        place.cohort,
        range_day=stage.calendar.day(step["day"]),
        now=stage.at(step),
        public_id=submission_id(step["id"]),
        **{name: step[name] for name in ANSWER_FIELDS if name in step},
    )


def answer(stage: Stage, student: Student, step: Data) -> None:
    review = stage.review(step["of"])
    if review.state == ReviewState.PUBLISHED:
        return
    coach, end = stage.people[step["by"]], stage.at(step)
    now = _minutes_before(end)
    review = reviews.claim_review(review, by=coach, now=now(14))
    swings = list(
        Swing.objects.filter(clip__submission=review.submission_id).order_by("clip__number", "number")
    )
    for swing in swings:
        for sign, verdict in verdicts(step, swing).items():
            judge_sign(swing, sign, verdict, by=coach, now=now(11))
    _speak_of_earlier(review, step, coach, now(7))
    review = reviews.save_draft(review, _draft(review, step), revision=review.revision, by=coach, now=now(6))
    marks, moments = _drawings(step, swings)
    review = save_marks(review, marks, moments, revision=review.revision, by=coach, now=now(3))
    reviews.publish_review(review, by=coach, now=end, revision=review.revision)


def _minutes_before(end: datetime) -> Callable[[int], datetime]:
    return lambda minutes: end - timedelta(minutes=minutes)


def verdicts(step: Data, swing: Swing) -> dict[str, str]:
    """What the coach says of each sign: sees it, was shown it and doesn't, or looked for it and it has gone."""
    flagged = SignFlag.objects.filter(
        readout__swing=swing, readout__is_current=True, level__in=FLAGGED
    ).values_list("sign", flat=True)
    said = dict.fromkeys([*flagged, *step.get("not", [])], str(Verdict.NOT_THIS))
    return said | dict.fromkeys(step["sees"], str(Verdict.AGREE))


def _speak_of_earlier(review: Review, step: Data, coach: User, now: datetime) -> None:
    """What these swings say of the finding before."""
    earlier = last_answered(review)
    if earlier is not None and "earlier" in step:
        say_fate(earlier, step["earlier"], review=review, by=coach, now=now)


def _draft(review: Review, step: Data) -> dict[str, Any]:
    fields = {name: step[name] for name in ("words", "keep", "priority", "cue")}
    if "drill" in step:
        drill = Drill.objects.get(key=step["drill"], camp=None)
        fields |= {"drill": drill, "dose": drill.dose}
    finding = step["finding"]
    words = idea_words(finding.get("root_node", ""), review.submission.club_class, cause_map())
    # A root in own words is no idea to be changed any more.
    if words is not None and "root" not in finding:
        fields["idea"] = {"better_idea": words.better_idea, "look": words.look, "say_back": words.say_back}
    return fields | {"finding": finding}


def _drawings(step: Data, swings: list[Swing]) -> tuple[list[Data], list[Data]]:
    measured = [points.of(swing) for swing in swings]

    def made(wanted: list[Data], maker: Any, kind: str) -> Iterator[Data]:
        for number, one in enumerate(wanted):
            found = measured[one["swing"] - 1] if one["swing"] <= len(measured) else None
            drawn = maker(one, found, _uid(step, kind, number)) if found else None
            if drawn:
                yield drawn

    return list(made(step["marks"], sketch, "mark")), list(made(step["moments"], moment, "moment"))


def _uid(step: Data, kind: str, number: int) -> UUID:
    return uuid5(step["uid"], f"{kind}/{number}")


def open_answer(stage: Stage, student: Student, step: Data) -> None:
    reviews.mark_opened(stage.review(step["of"]), by=stage.people[student.key], now=stage.at(step))


def say(stage: Stage, student: Student, step: Data) -> None:
    now = stage.at(step)
    thread = thread_for(stage.people[student.key], stage.camp, now=now)
    post_message(thread, by=stage.people[step["by"]], text=step["text"], now=now, public_id=step["uid"])


def say_back(stage: Stage, student: Student, step: Data) -> None:
    """The student says the better idea in own words; the coach, an hour later, whether it is understood."""
    review, now = stage.review(step["of"]), stage.at(step)
    said = say_it_back(review, step["text"], by=stage.people[student.key], now=now, public_id=step["uid"])
    if said.grasp != step["grasp"]:
        judge_grasp(said, step["grasp"], by=stage.people[step["by"]], now=now + timedelta(hours=1))


def practise(stage: Stage, student: Student, step: Data) -> None:
    log_practice(
        stage.review(step["of"]),
        step["kind"],
        by=stage.people[student.key],
        on_day=stage.calendar.day(step["day"]),
        balls=step.get("balls"),
        note=step.get("note", ""),
        now=stage.at(step),
        public_id=step["uid"],
    )


def defer(stage: Stage, student: Student, step: Data) -> None:
    review, now = stage.review(step["of"]), stage.at(step)
    if not _happened(review, "review.deferred"):
        until = now + timedelta(hours=step["hours"])
        reviews.defer_review(review, until=until, by=stage.people[step["by"]], now=now)


def hand_over(stage: Stage, student: Student, step: Data) -> None:
    review = stage.review(step["of"])
    if not _happened(review, "review.handed_over"):
        to, by = stage.people[step["to"]], stage.people[step["by"]]
        reviews.hand_over(review, to=to, note=step["note"], by=by, now=stage.at(step))


def release(stage: Stage, student: Student, step: Data) -> None:
    review = stage.review(step["of"])
    if not _happened(review, "review.released"):
        reviews.release_review(review, by=stage.people[step["by"]], now=stage.at(step))


def _happened(review: Review, verb: str) -> bool:
    return Event.objects.filter(thing_id=review.public_id, verb=verb).exists()


PLAYERS: dict[str, Callable[[Stage, Student, Data], None]] = {
    "answer": answer,
    "open": open_answer,
    "say": say,
    "say_back": say_back,
    "practise": practise,
    "defer": defer,
    "hand_over": hand_over,
    "release": release,
}
