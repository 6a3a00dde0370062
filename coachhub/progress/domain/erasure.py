"""Deleting a person, or one submission: rows, media, renditions, exports; an anonymous line is left (GDPR article 17).

There is no grace: what is deleted is gone at once, and the page says so before it asks for the password. What a coach
wrote for others is their answer as well: it stays, and its author becomes "a coach who has left".
"""

from __future__ import annotations

import uuid
from datetime import datetime

from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import transaction

from coachhub.accounts.domain.guardians import answers_for, end
from coachhub.accounts.models import Door, Guardianship, Notice, User
from coachhub.camps.enums import CampState, MemberState, Role
from coachhub.camps.models import Camp, Invitation, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.domain.recordings import forget_files
from coachhub.common.models import Event, PublicModel, Sight
from coachhub.feedback.domain.cases import take_down, take_down_for
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Case, Message, Review, TalkFilm, TalkTake, TalkThrough, Thread, VoiceNote
from coachhub.progress.domain.personal import (
    OWN,
    PARTS,
    RELATIONS,
    STAYS,
    drop_parts,
    files_of,
    in_folder,
    runs_of,
)
from coachhub.swings.models import AnalysisRun
from coachhub.videos.domain.pieces import part_path
from coachhub.videos.models import Clip, Submission

# May be empty, yet a published answer must have somebody who published it.
PUBLISHED_BY = "feedback.review.published_by"
# The role under which somebody's words stay, the one that says most first.
LEFT_WORDS = (
    (Role.COACH, "A coach who has left"),
    (Role.ORGANISER, "An organiser who has left"),
    (None, "Somebody who has left"),
)


def may_erase(person: User, by: User) -> bool:
    """Oneself, a guardian of a minor, or an organiser of every camp that the person is in."""
    if by.pk == person.pk or answers_for(by, person):
        return True
    camps = set(Membership.objects.filter(user=person).values_list("camp_id", flat=True))
    return bool(camps) and camps <= set(Camp.objects.run_by(by).values_list("pk", flat=True))


@transaction.atomic
def erase_person(person: User, *, by: User, now: datetime) -> None:
    """Delete everything of the person. Nothing of it can be brought back."""
    if not may_erase(person, by):
        raise RuleBroken("not_yours", "Only the person, a guardian or the organiser can delete this account.")
    _refuse_orphaned_camp(person)
    person = User.objects.select_for_update().get(pk=person.pk)
    role, left = "self" if by.pk == person.pk else "other", _left_words(person)
    _step_back(person, now=now)
    take_down_for(person, now=now)
    _end_doors(person)
    keys, runs = list(files_of(person)), [run.pk for run in runs_of(person)]
    _forget_notices(_things_of(person))
    drop_parts(person)
    Invitation.objects.filter(email__iexact=person.email).delete()
    Guardianship.objects.filter(guardian=None, email__iexact=person.email).delete()
    _delete_own(person)
    AnalysisRun.objects.filter(pk__in=runs, measurements=None, readouts=None).delete()
    Event.objects.filter(actor=person).update(actor=None)
    Sight.objects.filter(person=person).update(person=None)
    record("person.erased", person, by=None, now=now, asked_by=role)
    _become_nobody(person, left=left, now=now)
    after_commit(forget_files, keys)


def _refuse_orphaned_camp(person: User) -> None:
    run = Membership.objects.present(person).filter(role=Role.ORGANISER, camp__state=CampState.OPEN)
    for place in run.select_related("camp"):
        others = place.camp.memberships.filter(role=Role.ORGANISER).exclude(user=person)
        if not others.exclude(state=MemberState.LEFT).exists():
            raise RuleBroken(
                "last_organiser",
                f"You are the only organiser of {place.camp.name}. Close it first, or have somebody else run it.",
            )


def _step_back(person: User, *, now: datetime) -> None:
    """No child is left with the consent of a guardian who is gone, no student with a coach who is."""
    for guardianship in Guardianship.objects.standing().filter(guardian=person):
        end(guardianship, by=person, now=now)
    Review.objects.filter(claimed_by=person, state=ReviewState.CLAIMED).update(
        state=ReviewState.WAITING, claimed_by=None, claimed_at=None
    )


def _things_of(person: User) -> set[uuid.UUID]:
    """Public ids of what is about to go."""
    found = {person.public_id, *Thread.objects.filter(student=person).values_list("public_id", flat=True)}
    for part in PARTS:
        rows = part.rows(person)
        if issubclass(rows.model, PublicModel):
            found |= set(rows.values_list("public_id", flat=True))
    return found


def _forget_notices(things: set[uuid.UUID]) -> None:
    """Lines that lead others to what is gone."""
    Notice.objects.filter(about__in=[str(each) for each in things]).delete()


def _end_doors(person: User) -> None:
    Session.objects.filter(pk__in=Door.objects.filter(person=person).values("session_key")).delete()


def _delete_own(person: User) -> None:
    for field, fate in RELATIONS.items():
        if fate == OWN:
            label, name = field.rsplit(".", 1)
            model = apps.get_model(label)
            if model._meta.get_field(name).many_to_many:
                through = getattr(model, name).through
                through._default_manager.filter(user=person).delete()
            else:
                model._default_manager.filter(**{name: person}).delete()


def _become_nobody(person: User, *, left: str, now: datetime) -> None:
    """Deleted outright, or, where answers to others name the author, a row without anything of the person."""
    if not _is_needed(person):
        person.delete()
        return
    User.objects.filter(pk=person.pk).update(
        public_id=uuid.uuid4(),
        created_at=now,
        email=f"gone-{uuid.uuid4().hex}@left.invalid",
        name=left,
        password="!",
        last_login=None,
        time_zone="UTC",
        language="",
        is_active=False,
        is_superuser=False,
        may_make_camps=False,
        doors_closed=person.doors_closed + 1,
    )


def _is_needed(person: User) -> bool:
    """Whether something that stays would be torn away with the person."""
    for field, fate in RELATIONS.items():
        label, name = field.rsplit(".", 1)
        model = apps.get_model(label)
        if fate != STAYS or (model._meta.get_field(name).null and field != PUBLISHED_BY):
            continue
        if model._default_manager.filter(**{name: person}).exists():
            return True
    return False


def _left_words(person: User) -> str:
    held = set(Membership.objects.filter(user=person).values_list("role", flat=True))
    return next(words for role, words in LEFT_WORDS if role is None or role in held)


@transaction.atomic
def erase_submission(submission: Submission, *, by: User, now: datetime) -> None:
    """One submission with its films, numbers, answer and talk; the rest of the student's things stays."""
    if by.pk != submission.student_id and not answers_for(by, submission.student):
        raise RuleBroken("not_yours", "Only who sent it, or a guardian, can delete it.")
    submission = Submission.objects.select_for_update().get(pk=submission.pk)
    shown = Case.objects.filter(swing__clip__submission=submission) | Case.objects.filter(
        talk__review__submission=submission
    )
    for case in list(shown):
        take_down(case, by=None, now=now)
    clips = list(Clip.objects.filter(submission=submission))
    runs = [run for clip in clips for run in _runs_alone(clip, clips)]
    keys = [key for clip in clips for key in _clip_keys(clip)]
    keys += [key for run in runs for key in in_folder(run.result_key)]
    keys += _voice_keys(submission)
    for upload in submission.uploads.all():
        part_path(upload).unlink(missing_ok=True)
    messages = Message.objects.filter(review__submission=submission).values_list("public_id", flat=True)
    review = Review.objects.filter(submission=submission).values_list("public_id", flat=True)
    _forget_notices({submission.public_id, *messages, *review})
    record("submission.erased", submission, by=by, now=now, scope=submission.camp.public_id)
    submission.delete()
    AnalysisRun.objects.filter(pk__in=[r.pk for r in runs], measurements=None, readouts=None).delete()
    after_commit(forget_files, keys)


def _runs_alone(clip: Clip, clips: list[Clip]) -> list[AnalysisRun]:
    ids = {each.pk for each in clips}
    runs = AnalysisRun.objects.filter(measurements__clip=clip) | AnalysisRun.objects.filter(
        readouts__swing__clip=clip
    )
    return [
        run
        for run in runs.distinct()
        if set(run.measurements.values_list("clip_id", flat=True)) <= ids
        and set(run.readouts.values_list("swing__clip_id", flat=True)) <= ids
    ]


def _clip_keys(clip: Clip) -> list[str]:
    return [clip.original_key, clip.rendition_key, clip.poster_key, clip.index_key]


def _voice_keys(submission: Submission) -> list[str]:
    notes = VoiceNote.objects.filter(review__submission=submission)
    talks = TalkThrough.objects.filter(review__submission=submission)
    keys = [key for pair in notes.values_list("source_key", "audio_key") for key in pair]
    keys += talks.values_list("audio_key", flat=True)
    keys += TalkTake.objects.filter(review__submission=submission).values_list("source_key", flat=True)
    keys += TalkFilm.objects.filter(talk__in=talks).values_list("film_key", flat=True)
    return keys
