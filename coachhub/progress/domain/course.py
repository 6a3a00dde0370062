"""One student on one time line: what was found, tried, practised and said, and what the swings then measured.

The word "changed" comes only from the comparison of range sessions (three swings a side, like with like); everything
else is what people said, with its day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from analysis.compare import Change, MeasuredSwing, compare_sessions, usual_rate, words
from analysis.signs.rules import RULES
from coachhub.accounts.domain.consent import allows
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import User
from coachhub.camps.domain.weeks import local_day, week_of
from coachhub.camps.models import Camp, Cohort
from coachhub.feedback.domain.finding import chain, miss_sentence
from coachhub.feedback.domain.versions import answered_findings
from coachhub.feedback.enums import Fate, Grasp, PracticeKind, ReviewState
from coachhub.feedback.models import FindingVersion, FindingWord, Practice
from coachhub.progress.domain.judged import Status, answered, judged_submissions
from coachhub.progress.domain.strands import Strand, say_backs_of, strands_of
from coachhub.swings.domain.measured import measured_swing
from coachhub.swings.enums import SignKey
from coachhub.swings.models import Readout
from coachhub.videos.enums import Intent, SubmissionState
from coachhub.videos.models import Submission

HIDDEN = (SubmissionState.OPEN, SubmissionState.WITHDRAWN)
# In the order of a day.
SESSION, FINDING, WORD, PRACTICE, SAID_BACK, SIGN, NUMBER = (
    "session",
    "finding",
    "word",
    "practice",
    "said_back",
    "sign",
    "number",
)
ORDER = (SESSION, SIGN, NUMBER, WORD, FINDING, PRACTICE, SAID_BACK)


@dataclass(frozen=True)
class Entry:
    day: date
    kind: str
    title: str
    text: str
    metric: str = ""


@dataclass(frozen=True)
class Day:
    day: date
    week: int | None
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class Course:
    days: tuple[Day, ...]
    strands: tuple[Strand, ...]


@dataclass(frozen=True)
class _Session:
    """Swings of one day, club, view and rate."""

    day: date
    swings: tuple[MeasuredSwing, ...]


def course_of(student: User, camp: Camp, *, only_published: bool = True) -> Course:
    """``only_published``: only what the student may see. Else it is for staff, as long as the student agrees to it."""
    if not only_published and not allows(student, Purpose.FEEDBACK):
        return Course((), ())
    submissions = _submissions(student, camp, only_published)
    findings = list(answered_findings(student, camp))
    confirmed = _confirmed(student, camp)
    changes = list(_changes(submissions, confirmed))
    entries = [
        *map(_session_entry, submissions),
        *_sign_entries(submissions, confirmed),
        *(_change_entry(day, change) for day, change in changes),
        *_word_entries(camp, findings, only_published),
        *(_finding_entry(camp, version) for version in findings),
        *_practice_entries(student, camp),
        *_said_back_entries(student, camp),
    ]
    strands = strands_of(student, camp, submissions, findings, changes)
    return Course(tuple(_days(camp, entries)), tuple(strands))


def _days(camp: Camp, entries: Iterable[Entry]) -> Iterator[Day]:
    by_day: dict[date, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_day[entry.day].append(entry)
    for day, found in sorted(by_day.items()):
        yield Day(day, week_of(camp, day), tuple(sorted(found, key=lambda each: ORDER.index(each.kind))))


def _submissions(student: User, camp: Camp, only_published: bool) -> list[Submission]:
    rows = Submission.objects.filter(student=student, camp=camp).exclude(state__in=HIDDEN)
    if only_published:
        rows = rows.filter(review__state=ReviewState.PUBLISHED)
    return list(rows.select_related("review").order_by("range_day", "pk"))


def _session_entry(submission: Submission) -> Entry:
    labels = dict(Intent.choices)
    tries = "; ".join(str(labels.get(key, key)) for key in submission.intents)
    said = [
        miss_sentence(submission).capitalize() or "No miss reported",
        f"Tries to: {tries}" if tries else "",
    ]
    if submission.intent_words.strip():
        said.append(f"“{submission.intent_words.strip()}”")
    club = submission.get_club_class_display()
    return Entry(submission.range_day, SESSION, f"Range session, {club}", ". ".join(filter(None, said)))


def _finding_entry(camp: Camp, version: FindingVersion) -> Entry:
    review = version.review
    links = " ← ".join(step.text for step in chain(version))
    asked = [f"The one thing: {review.priority.rstrip('.')}" if review.priority else ""]
    asked.append(f"Drill: {review.drill.name}" if review.drill else "")
    text = ". ".join(filter(None, (links, *asked)))
    return Entry(local_day(camp, version.created_at), FINDING, f"Finding by {version.by.name}", text)


def _word_entries(camp: Camp, findings: list[FindingVersion], only_published: bool) -> Iterator[Entry]:
    said = FindingWord.objects.filter(version__in=findings).select_related("version", "by")
    if only_published:
        said = said.filter(review__state=ReviewState.PUBLISHED)
    # All are kept; of those one submission says of one finding, the newest is told.
    newest = {(word.version_id, word.review_id): word for word in said}
    for word in newest.values():
        day = local_day(camp, word.created_at)
        about = local_day(camp, word.version.created_at)
        yield Entry(
            day, WORD, f"On the finding of {about:%-d %B}: {Fate(word.fate).label}", f"said by {word.by.name}"
        )


def _practice_entries(student: User, camp: Camp) -> Iterator[Entry]:
    for one in Practice.objects.of(student, camp).with_drills():
        drill = one.drill.name if one.drill else "the one thing"
        balls = f"{one.balls} balls" if one.balls else ""
        words_said = f"“{one.note}”" if one.note else ""
        title = f"{PracticeKind(one.kind).label.capitalize()}: {drill}"
        yield Entry(one.on_day, PRACTICE, title, ", ".join(filter(None, (balls, words_said))))


def _said_back_entries(student: User, camp: Camp) -> Iterator[Entry]:
    for said in say_backs_of(student, camp):
        word = Grasp(said.grasp).label if said.grasp else "not read yet"
        day = local_day(camp, said.created_at)
        yield Entry(day, SAID_BACK, f"Said back: {word}", f"“{said.message.text}”")


def _confirmed(student: User, camp: Camp) -> dict[int, list[str]]:
    """Signs that a coach confirmed, by submission, of answers that are out."""
    own = answered(camp, Cohort.objects.filter(camp=camp), own=student)
    return {
        judged.submission_id: [sign for sign, status in judged.signs.items() if status == Status.CONFIRMED]
        for judged in judged_submissions(camp, own)
    }


def _sign_entries(submissions: list[Submission], confirmed: dict[int, list[str]]) -> Iterator[Entry]:
    labels = dict(SignKey.choices)
    for submission in submissions:
        signs = [str(labels.get(sign, sign)) for sign in confirmed.get(submission.pk, ())]
        if signs:
            yield Entry(submission.range_day, SIGN, "Confirmed by the coach", ", ".join(signs))


def _changes(submissions: list[Submission], confirmed: dict[int, list[str]]) -> Iterator[tuple[date, Change]]:
    """Each later session against the first of its kind, in the numbers behind signs that were ever confirmed."""
    signs = {sign for found in confirmed.values() for sign in found}
    wanted = {term.metric for rule in RULES if rule.key in signs for term in rule.terms}
    if not wanted:
        return
    for sessions in _sessions(submissions, wanted).values():
        first, *later = sessions
        for session in later:
            for change in compare_sessions(first.swings, session.swings).values():
                if change.difference is not None:
                    yield session.day, change


def _sessions(submissions: list[Submission], wanted: set[str]) -> dict[tuple[str, str, int], list[_Session]]:
    readouts = Readout.objects.of_strikes().filter(is_current=True, swing__clip__submission__in=submissions)
    days: dict[tuple[str, str, int], dict[date, list[MeasuredSwing]]] = defaultdict(lambda: defaultdict(list))
    for readout in readouts.select_related("swing__clip__submission").order_by("pk"):
        submission = readout.swing.clip.submission
        assert submission is not None
        swing = measured_swing(readout, submission.club_class)
        known = {name: one for name, one in swing.metrics.items() if name in wanted and one.value is not None}
        if known:
            kind = (swing.view, submission.club_class, usual_rate(swing.fps))
            kept = MeasuredSwing(swing.view, submission.club_class, swing.fps, known)
            days[kind][submission.range_day].append(kept)
    return {
        kind: [_Session(day, tuple(swings)) for day, swings in sorted(found.items())]
        for kind, found in days.items()
    }


def _change_entry(day: date, change: Change) -> Entry:
    return Entry(day, NUMBER, "Against the first session", words(change), metric=change.metric)
