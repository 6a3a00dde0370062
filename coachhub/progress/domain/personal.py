"""Where a person's data lies: what an export takes, what an erasure takes, and what stays without the person.

A test walks over all models: one with a relation to a person, to a submission or to a file that isn't told here fails.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.apps import apps
from django.core.files.storage import default_storage
from django.db.models import Model, Q, QuerySet

from coachhub.accounts.models import User
from coachhub.feedback.models import Case
from coachhub.swings.models import AnalysisRun
from coachhub.videos.domain.pieces import part_path
from coachhub.videos.models import Reference, Submission, Upload

OWN, STAYS = "own", "stays"

# Every relation to a person. OWN: the row goes with the person. STAYS: it belongs to somebody else too (an answer to a
# student, the camp's log) and stays; the person in it becomes nobody.
RELATIONS: dict[str, str] = {
    "accounts.alertcleared.cleared_by": STAYS,
    "accounts.alertcleared.student": OWN,
    "accounts.apitoken.person": OWN,
    "accounts.consent.by": STAYS,
    "accounts.consent.person": OWN,
    "accounts.door.person": OWN,
    "accounts.guardianship.child": OWN,
    "accounts.guardianship.guardian": OWN,
    "accounts.guardianship.invited_by": STAYS,
    "accounts.intake.user": OWN,
    "accounts.mailchoice.person": OWN,
    "accounts.minor.person": OWN,
    "accounts.notice.person": OWN,
    "accounts.standingconsent.person": OWN,
    "camps.calendarkey.person": OWN,
    "camps.concern.about": STAYS,
    "camps.concern.by": STAYS,
    "camps.concern.child": OWN,
    "camps.concern.taken_by": STAYS,
    "camps.hello.by": OWN,
    "camps.invitation.made_by": STAYS,
    "camps.membership.user": OWN,
    "camps.signbands.by": STAYS,
    "common.event.actor": STAYS,
    "common.sight.person": STAYS,
    "feedback.campmap.by": STAYS,
    "feedback.case.approved_by": STAYS,
    "feedback.case.by": STAYS,
    "feedback.case.student": OWN,
    "feedback.casepost.student": OWN,
    "feedback.explanation.coach": OWN,
    "feedback.findingversion.by": STAYS,
    "feedback.findingword.by": STAYS,
    "feedback.lesson.by": STAYS,
    "feedback.message.author": STAYS,
    "feedback.observation.by": STAYS,
    "feedback.parkedpriority.by": STAYS,
    "feedback.parkedpriority.student": OWN,
    "feedback.question.read_by": STAYS,
    "feedback.review.claimed_by": STAYS,
    "feedback.review.deferred_by": STAYS,
    "feedback.review.published_by": STAYS,
    "feedback.sayback.judged_by": STAYS,
    "feedback.talkthrough.by": STAYS,
    "feedback.thread.student": OWN,
    "feedback.threadread.user": OWN,
    "otp_static.staticdevice.user": OWN,
    "otp_totp.totpdevice.user": OWN,
    "progress.takeaway.ordered_by": OWN,
    "progress.takeaway.person": OWN,
    "swings.eventcorrection.by": STAYS,
    "swings.jointcorrection.by": STAYS,
    "swings.signjudgement.by": STAYS,
    "videos.keptvideos.student": OWN,
    "videos.reference.owner": OWN,
    "videos.reference.shown_to": OWN,
    "videos.submission.student": OWN,
    "videos.upload.owner": OWN,
}

# Every storage key, by how its row leads to the person whose film or voice it is about.
FILES: dict[str, tuple[str, ...]] = {
    "camps.hellorecording.source_key": ("hello__by",),
    "camps.hellorecording.made_key": ("hello__by",),
    "videos.clip.original_key": ("submission__student", "reference__owner"),
    "videos.clip.rendition_key": ("submission__student", "reference__owner"),
    "videos.clip.poster_key": ("submission__student", "reference__owner"),
    "videos.clip.index_key": ("submission__student", "reference__owner"),
    "feedback.explanation.audio_key": ("coach",),
    "feedback.voicenote.source_key": ("review__submission__student",),
    "feedback.voicenote.audio_key": ("review__submission__student",),
    "feedback.talktake.source_key": ("review__submission__student",),
    "feedback.talkthrough.audio_key": ("review__submission__student",),
    "feedback.talkfilm.film_key": ("talk__review__submission__student",),
    "progress.takeaway.file_key": ("person", "ordered_by"),
}
# Folders: of cases, and of measurings, which clips of equal content share.
FOLDERS = ("feedback.case.folder_key", "swings.analysisrun.result_key")
# Named like keys, and no files of their own; a run's source is its clip's original.
NO_FILES = (
    "accounts.attempt.key",
    "accounts.door.session_key",
    "feedback.drill.key",
    "feedback.lesson.key",
    "otp_totp.totpdevice.key",
    "sessions.session.session_key",
    "swings.analysisrun.source_key",
)


@dataclass(frozen=True)
class Part:
    """Rows of an export: those whose ``of`` leads to the person, without the ``hidden`` fields."""

    model: str
    of: str
    title: str
    hidden: tuple[str, ...] = ()

    def rows(self, person: User) -> QuerySet[Model]:
        wanted = person.pk if self.of == "pk" else person
        rows: QuerySet[Model] = apps.get_model(self.model)._default_manager.filter(**{self.of: wanted})
        return rows.order_by("pk")


_OF_REVIEW = "review__submission__student"
PARTS: tuple[Part, ...] = (
    Part("accounts.user", "pk", "Account", ("password", "doors_closed", "is_superuser")),
    Part("camps.membership", "user", "Camps"),
    Part("accounts.intake", "user", "Answers to the questions at the start"),
    Part("accounts.minor", "person", "Month of birth"),
    Part("accounts.consent", "person", "Consents, given and taken back"),
    Part("accounts.guardianship", "child", "Guardians", ("letter",)),
    Part("accounts.guardianship", "guardian", "Children whose guardian you are", ("letter",)),
    Part("accounts.notice", "person", "Notices"),
    Part("accounts.mailchoice", "person", "How often letters go to you"),
    Part("accounts.alertcleared", "student", "Pain alerts that a coach cleared"),
    Part("videos.submission", "student", "What you sent"),
    Part("videos.clip", "submission__student", "Clips"),
    Part("videos.upload", "owner", "Uploads"),
    Part("swings.swing", "clip__submission__student", "Swings"),
    Part("swings.readout", "swing__clip__submission__student", "Measured numbers"),
    Part("swings.eventcorrection", "swing__clip__submission__student", "Moments corrected by a coach"),
    Part("swings.jointcorrection", "swing__clip__submission__student", "Joints corrected by a coach"),
    Part("feedback.review", "submission__student", "Answers", ("last_save", "revision", "claimed_at")),
    Part("feedback.clockevent", _OF_REVIEW, "The promise clock"),
    Part("feedback.finding", _OF_REVIEW, "Findings as drafted"),
    Part("feedback.findingversion", _OF_REVIEW, "Findings as given"),
    Part("feedback.findingword", _OF_REVIEW, "What became of earlier findings"),
    Part("feedback.observation", _OF_REVIEW, "What a coach saw by eye"),
    Part("feedback.question", _OF_REVIEW, "Questions"),
    Part("feedback.ideachange", _OF_REVIEW, "Better ideas"),
    Part("feedback.sayback", _OF_REVIEW, "Said back"),
    Part("feedback.mark", _OF_REVIEW, "Drawings"),
    Part("feedback.moment", _OF_REVIEW, "Moments"),
    Part("feedback.comparison", _OF_REVIEW, "Comparisons"),
    Part("feedback.voicenote", _OF_REVIEW, "Voice notes"),
    Part("feedback.talkthrough", _OF_REVIEW, "Talk-throughs", ("script",)),
    Part("feedback.practice", _OF_REVIEW, "Practice"),
    Part("feedback.practice", "delivery__message__thread__student", "Practice of lessons"),
    Part("feedback.parkedpriority", "student", "Kept for later by a coach"),
    Part("feedback.message", "thread__student", "Talk with the coaches"),
    Part("feedback.case", "student", "Lessons that show you", ("looked",)),
    Part("videos.keptvideos", "student", "Videos you wanted kept"),
    Part("videos.reference", "owner", "Your library"),
    Part("feedback.explanation", "coach", "Explanations you keep"),
    Part("camps.concern", "by", "Concerns you reported"),
    Part("camps.hello", "by", "Your hellos to cohorts"),
    Part("accounts.apitoken", "person", "Keys for programs", ("digest",)),
    Part("accounts.door", "person", "Where you are signed in", ("session_key",)),
    Part("common.event", "actor", "What you did here"),
    Part("common.sight", "person", "What you looked at", ("hour",)),
)
# Told, and not taken along, with the reason.
NOT_TAKEN: dict[str, str] = {
    "accounts.standingconsent": "worked out from the consents, which are taken",
    "camps.concern": "about a child: the guardian's word, taken along by who reported it",
    "camps.calendarkey": "a secret for reading the calendar",
    "camps.invitation": "the camp's",
    "camps.signbands": "the camp's",
    "feedback.campmap": "the camp's",
    "feedback.casepost": "a line that leads to somebody else's case",
    "feedback.lesson": "for many; its words are in the talk",
    "feedback.lessondelivery": "for many; its words are in the talk",
    "feedback.talkfilm": "made from the talk; its file is taken",
    "feedback.talktake": "raw parts of the talk, whose sound is taken",
    "feedback.thread": "its messages are taken",
    "feedback.threadread": "how far one has read",
    "otp_static.staticdevice": "a secret for signing in",
    "otp_totp.totpdevice": "a secret for signing in",
    "progress.takeaway": "this file itself",
    "swings.analysisrun": "how the machine worked; its numbers are taken",
    "swings.measurement": "which working speaks for a clip",
    "swings.signflag": "taken along with the measured numbers",
    "swings.signjudgement": "taken along with the measured numbers",
    "videos.clipjob": "how the machine worked",
}


def files_of(person: User) -> Iterator[str]:
    """Keys of all files of the person; of folders every file in them."""
    for field, ways in FILES.items():
        label, name = field.rsplit(".", 1)
        mine = Q()
        for way in ways:
            mine |= Q(**{way: person})
        keys = apps.get_model(label)._default_manager.filter(mine).values_list(name, flat=True)
        yield from filter(None, keys)
    cases = Case.objects.filter(student=person)
    for folder in [*cases.values_list("folder_key", flat=True), *(run.result_key for run in runs_of(person))]:
        yield from in_folder(folder)


def in_folder(key: str) -> list[str]:
    try:
        return [f"{key}/{name}" for name in default_storage.listdir(key)[1]] if key else []
    except FileNotFoundError:
        return []


def runs_of(person: User) -> list[AnalysisRun]:
    """Measurings that speak for this person's clips alone."""
    mine = Q(measurements__clip__submission__student=person) | Q(measurements__clip__reference__owner=person)
    read = Q(readouts__swing__clip__submission__student=person) | Q(
        readouts__swing__clip__reference__owner=person
    )
    runs = AnalysisRun.objects.filter(mine | read).distinct()
    return [run for run in runs if _is_alone(run, person)]


def _is_alone(run: AnalysisRun, person: User) -> bool:
    clips = {row.clip for row in run.measurements.select_related("clip__submission", "clip__reference")}
    clips |= {row.swing.clip for row in run.readouts.select_related("swing__clip__submission")}
    return all(_owner_id(clip.submission, clip.reference) == person.pk for clip in clips)


def _owner_id(submission: Submission | None, reference: Reference | None) -> int | None:
    if submission is not None:
        return submission.student_id
    return reference.owner_id if reference is not None else None


def drop_parts(person: User) -> None:
    """What has arrived of unfinished uploads."""
    for upload in Upload.objects.filter(Q(owner=person) | Q(submission__student=person)):
        part_path(upload).unlink(missing_ok=True)
