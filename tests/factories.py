"""Plain factories: each makes one valid row with no surprises; what a test cares about, it says."""

from __future__ import annotations

import hashlib
import itertools
import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

from coachhub.accounts.models import Consent, Guardianship, Intake, Minor, StandingConsent, User
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Drill, Review, Thread
from coachhub.swings.models import AnalysisRun, Measurement, Readout, SignFlag, Swing
from coachhub.videos.enums import ClipState, SubmissionState
from coachhub.videos.models import Clip, Reference, Submission

# A Wednesday, mid-morning UTC; camps in tests sit in a zone that is not UTC.
NOW = datetime(2026, 6, 10, 9, 30, tzinfo=UTC)
PASSWORD = "meadow-lark-57"
_count = itertools.count(1)


def make_user(name: str = "", **fields: Any) -> User:
    number = next(_count)
    name = name or f"Person {number}"
    email = fields.pop("email", f"person{number}@example.org")
    return User.objects.create_user(
        email, fields.pop("password", PASSWORD), name=name, created_at=NOW, time_zone="Asia/Tokyo", **fields
    )


def make_camp(name: str = "", **fields: Any) -> Camp:
    defaults: dict[str, Any] = {
        "name": name or f"Camp {next(_count)}",
        "starts_on": date(2026, 6, 1),
        "ends_on": date(2026, 6, 28),
        "time_zone": "Asia/Tokyo",
        "promise_hours": 48,
        "rest_days": [7],
        "created_at": NOW - timedelta(days=20),
    }
    return Camp.objects.create(**defaults | fields)


def make_cohort(camp: Camp | None = None, name: str = "", **fields: Any) -> Cohort:
    camp = camp or make_camp()
    return Cohort.objects.create(camp=camp, name=name or f"Cohort {next(_count)}", created_at=NOW, **fields)


def join(user: User, cohort: Cohort, role: str = Role.STUDENT) -> Membership:
    above = role == Role.ORGANISER
    return Membership.objects.create(
        camp=cohort.camp, cohort=None if above else cohort, user=user, role=role, created_at=NOW
    )


def make_intake(user: User, **fields: Any) -> Intake:
    defaults: dict[str, Any] = {
        "age_band": "40_59",
        "handedness": "right",
        "level": "middle",
        "created_at": NOW,
    }
    return Intake.objects.create(user=user, **defaults | fields)


def agree(person: User, *purposes: str, by: User | None = None) -> None:
    """The person's own consents, or for a minor those of the guardian ``by``."""
    voice = "self" if by is None else "guardian"
    for purpose in purposes or ("analysis", "feedback"):
        said = {"person": person, "purpose": purpose, "by": by or person, "voice": voice}
        Consent.objects.create(**said, is_given=True, created_at=NOW)
        StandingConsent.objects.get_or_create(person=person, purpose=purpose, defaults={"since": NOW})


def make_student(cohort: Cohort, name: str = "", **intake: Any) -> User:
    user = make_user(name)
    join(user, cohort)
    agrees_cohort = intake.pop("agrees_cohort", False)
    make_intake(user, **intake)
    agree(user, "analysis", "feedback", *(["cohort"] if agrees_cohort else []))
    return user


def make_guardianship(child: User, guardian: User, **fields: Any) -> Guardianship:
    defaults: dict[str, Any] = {
        "email": guardian.email,
        "state": "active",
        "invited_by": child,
        "mailed_at": NOW,
        "expires_at": NOW + timedelta(days=14),
        "accepted_at": NOW,
        "created_at": NOW,
    }
    return Guardianship.objects.create(child=child, guardian=guardian, **defaults | fields)


def make_minor(cohort: Cohort, name: str = "", *, guardian: User | None = None, agrees: bool = True) -> User:
    """A student of 14 or 15; with a guardian, who agreed to what sending needs."""
    user = make_user(name)
    join(user, cohort)
    Minor.objects.create(person=user, birth_year=NOW.year - 15, birth_month=NOW.month, created_at=NOW)
    make_intake(user, age_band="under_18")
    if guardian is not None:
        make_guardianship(user, guardian)
        if agrees:
            agree(user, by=guardian)
    return user


def make_submission(student: User, cohort: Cohort, **fields: Any) -> Submission:
    defaults: dict[str, Any] = {
        "camp": cohort.camp,
        "state": SubmissionState.USABLE,
        "range_day": date(2026, 6, 9),
        "club_class": "iron",
        "miss_start": "left",
        "miss_curve": "none",
        "intents": ["bel_lift"],
        "sent_at": NOW,
        "settled_at": NOW,
        "created_at": NOW,
    }
    return Submission.objects.create(student=student, cohort=cohort, **defaults | fields)


def make_reference(owner: User, camp: Camp, title: str = "", **fields: Any) -> Reference:
    defaults: dict[str, Any] = {
        "title": title or f"Reference {next(_count)}",
        "view": "face_on",
        "club_class": "iron",
        "rights": "myself",
        "is_shared": True,
        "created_at": NOW,
    }
    return Reference.objects.create(owner=owner, camp=camp, **defaults | fields)


def make_clip(submission: Submission | None, **fields: Any) -> Clip:
    """A usable clip of a submission, or of the ``reference`` given."""
    number = fields.pop("number", submission.clips.count() + 1 if submission else 1)
    digest = hashlib.sha256(uuid.uuid4().bytes).hexdigest()
    defaults: dict[str, Any] = {
        "view": "face_on",
        "state": ClipState.USABLE,
        "sha256": digest,
        "size": 900_000,
        "original_key": f"originals/{digest}",
        "duration_s": 2.5,
        "fps": 60.0,
        "frame_count": 150,
        "width": 720,
        "height": 1280,
        "created_at": NOW,
    }
    return Clip.objects.create(submission=submission, number=number, **defaults | fields)


def make_run(clip: Clip, **fields: Any) -> AnalysisRun:
    defaults: dict[str, Any] = {
        "clip_digest": clip.sha256,
        "code_version": "test",
        "model_digest": "0" * 64,
        "parameters_digest": "0" * 64,
        "source_key": clip.original_key,
        "job_state": "done",
        "queued_at": NOW,
    }
    run = AnalysisRun.objects.create(**defaults | fields)
    Measurement.objects.create(clip=clip, run=run)
    return run


def make_swing(
    clip: Clip, *, signs: dict[str, str] | None = None, data: dict[str, Any] | None = None
) -> Swing:
    """A measured swing; ``signs`` maps sign names to levels."""
    number = clip.swings.count() + 1
    swing = Swing.objects.create(clip=clip, number=number, start_s=0.2, end_s=2.3, created_at=NOW)
    measurement = Measurement.objects.filter(clip=clip).first()
    run = measurement.run if measurement else make_run(clip)
    readout = Readout.objects.create(
        swing=swing, run=run, data=data or readout_data(signs or {}), created_at=NOW
    )
    for sign, level in (signs or {}).items():
        SignFlag.objects.create(readout=readout, sign=sign, level=level, probability=None)
    return swing


def readout_data(signs: dict[str, str]) -> dict[str, Any]:
    times = {"address": 0.3, "takeaway": 0.4, "top": 1.2, "impact": 1.5, "finish": 2.2}
    return {
        "view": "face_on",
        "handedness": "right",
        "fps": 60.0,
        "usable": True,
        "problems": [],
        "events": {name: {"t": t, "se": 0.01} for name, t in times.items()},
        "shaft": [],
        "metrics": {"tempo_ratio": {"value": 2.7, "se": 0.2, "unit": "", "at": "impact"}},
        "signs": {name: {"level": level, "p": 0.8, "evidence": []} for name, level in signs.items()},
        "version": "test",
    }


def make_review(submission: Submission, **fields: Any) -> Review:
    defaults: dict[str, Any] = {
        "state": ReviewState.WAITING,
        "due_at": NOW + timedelta(hours=48),
        "created_at": NOW,
    }
    return Review.objects.create(submission=submission, **defaults | fields)


def make_thread(student: User, cohort: Cohort) -> Thread:
    return Thread.objects.create(camp=cohort.camp, cohort=cohort, student=student, created_at=NOW)


def make_drill(key: str = "", **fields: Any) -> Drill:
    defaults: dict[str, Any] = {
        "name": "Brush ahead",
        "how": "Swing so that the first touch of the ground is ahead of the line.",
        "cue": "brush the turf past the line",
        "dose": "3 sets of 10",
        "created_at": NOW,
    }
    return Drill.objects.create(key=key or f"drill-{next(_count)}", **defaults | fields)
