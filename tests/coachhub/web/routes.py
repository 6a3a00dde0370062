"""Every address of the site × every person of the cast: the status each must get.

Add a row for each new URL name; the test beside this file fails for a name without a row, for a row without a name,
and for a method that answers without being in its row.

    "coach:desk": Row(get=only("coach"), kwargs=lambda scene: {"public_id": scene.review.public_id}),
    "coach:claim": Row(post=only("coach", status=302, organiser=403), kwargs=..., data=lambda scene: {...}),

``only(...)`` gives those named ``status`` (200), everybody else 404 (out of sight) and sends the anonymous to the
sign-in page (302); a keyword sets one person. What a refused person gets is also searched for the scene's private
words, and the whole database is compared before and after.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import parse_qsl, urlsplit
from uuid import UUID

from django.core import signing
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from coachhub.accounts.domain.guardians import token_of as guardian_token
from coachhub.accounts.domain.notices import unsubscribe_token
from coachhub.camps.domain.invitations import token_of
from coachhub.camps.models import CalendarKey, CampTask, Hello, HelloRecording
from coachhub.common.spreadsheet import WRITERS
from coachhub.progress.domain.calendar import renew_key
from coachhub.progress.domain.calendar import token_of as token_of_calendar
from coachhub.videos.enums import SubmissionState
from coachhub.web.media.links import media_link
from coachhub.web.organiser.exports import EXPORTS
from tests import factories
from tests.cast import NAMES
from tests.coachhub.web import api_routes
from tests.coachhub.web.scene import Scene
from tests.factories import PASSWORD

Statuses = dict[str, int]
Kwargs = Callable[[Scene], dict[str, Any]]


def only(
    *people: str, status: int = 200, otherwise: int = 404, anonymous: int = 302, **single: int
) -> Statuses:
    given = {name: status if name in people else otherwise for name in NAMES}
    given["anonymous"] = anonymous
    return given | dict.fromkeys(people, status) | single


def everybody(status: int = 200, **single: int) -> Statuses:
    return dict.fromkeys(NAMES, status) | single


def signed_in(status: int = 200, anonymous: int = 302, **single: int) -> Statuses:
    return everybody(status, anonymous=anonymous, **single)


@dataclass(frozen=True)
class Row:
    get: Statuses | None = None
    post: Statuses | None = None
    head: Statuses | None = None
    patch: Statuses | None = None
    delete: Statuses | None = None
    options: Statuses | None = None
    kwargs: Kwargs = lambda scene: {}
    query: Kwargs = lambda scene: {}
    data: Kwargs = lambda scene: {}
    # Send the data of the unsafe methods as this type (a dict is turned into JSON for "application/json").
    content_type: str = ""
    headers: Kwargs = lambda scene: {}
    # Runs once on the fresh scene, e.g. to put a file into storage.
    prepare: Callable[[Scene], None] = lambda scene: None

    def methods(self) -> dict[str, Statuses]:
        names = ("get", "post", "head", "patch", "delete", "options")
        return {name: given for name in names if (given := getattr(self, name)) is not None}


def organiser_rows() -> dict[str, Row]:
    """The organiser's own pages. Who is in the camp sees that it is there, and may not run it: 403, not 404."""
    in_camp = {"student": 403, "cohort_mate": 403, "minor": 403, "coach": 403, "coach_elsewhere": 403}
    # The other coach of the camp is not in this cohort.
    in_cohort = in_camp | {"coach_elsewhere": 404}
    own_row = {"student": 403, "coach": 403}

    def camp(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.cast.camp.public_id}

    def cohort(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.cast.cohort.public_id}

    def member(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.membership.public_id}

    def invitation(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.invitation.public_id}

    plan = {
        "name": "Late Summer",
        "starts_on": "2026-09-01",
        "ends_on": "2026-09-28",
        "time_zone": "Asia/Tokyo",
        "promise_hours": 36,
        "retention_days": 30,
    }
    tables = [f"{table}-{kind}" for table in EXPORTS for kind in WRITERS]
    pages = ("camp", "promise", "signs", *tables)
    return {
        "organiser:camps": Row(get=signed_in(403, organiser=200, organiser_elsewhere=200)),
        "organiser:camp-new": Row(get=signed_in(403), post=signed_in(403), data=lambda scene: plan),
        **{f"organiser:{page}": Row(get=only("organiser", **in_camp), kwargs=camp) for page in pages},
        "organiser:camp-edit": Row(
            get=only("organiser", **in_camp),
            post=only("organiser", status=302, **in_camp),
            kwargs=camp,
            data=lambda scene: plan,
        ),
        "organiser:bands": Row(
            get=only("organiser", "coach", "coach_elsewhere", student=403, cohort_mate=403, minor=403),
            post=only(
                "organiser", "coach", "coach_elsewhere", status=302, student=403, cohort_mate=403, minor=403
            ),
            kwargs=camp,
            data=lambda scene: {"based_on": 0, "sway:pelvis_shift_top:from": "-12"},
        ),
        "organiser:bands-reset": Row(
            post=only(
                "organiser", "coach", "coach_elsewhere", status=302, student=403, cohort_mate=403, minor=403
            ),
            kwargs=camp,
        ),
        # Who runs this camp may not make camps of their own.
        "organiser:camp-copy": Row(
            get=only(**in_camp, organiser=403),
            post=only(**in_camp, organiser=403),
            kwargs=camp,
            data=lambda scene: plan,
        ),
        "organiser:log": Row(get=only("organiser", **in_camp), kwargs=camp),
        "organiser:record": Row(get=only("organiser", **own_row), kwargs=member),
        "organiser:move-work": Row(
            get=only("organiser", **in_cohort),
            post=only("organiser", status=302, **in_cohort),
            kwargs=cohort,
            data=lambda scene: {"away_from": scene.cast.coach.pk, "to": scene.cast.coach_elsewhere.pk},
        ),
        "organiser:camp-close": Row(post=only("organiser", status=302, **in_camp), kwargs=camp),
        "organiser:camp-reopen": Row(post=only("organiser", status=302, **in_camp), kwargs=camp),
        "organiser:cohort-new": Row(
            post=only("organiser", status=302, **in_camp), kwargs=camp, data=lambda scene: {"name": "Night"}
        ),
        "organiser:practice": Row(get=only("organiser", **in_cohort), kwargs=cohort),
        "organiser:cohort": Row(get=only("organiser", **in_cohort), kwargs=cohort),
        "organiser:cohort-rename": Row(
            post=only("organiser", status=302, **in_cohort),
            kwargs=cohort,
            data=lambda scene: {"rename-name": "Early"},
        ),
        "organiser:coach-add": Row(
            post=only("organiser", status=302, **in_cohort),
            kwargs=cohort,
            data=lambda scene: {"coach": scene.cast.coach_elsewhere.public_id},
        ),
        "organiser:invite": Row(
            post=only("organiser", status=302, **in_cohort),
            kwargs=cohort,
            data=lambda scene: {"role": "student", "email": "new@example.org", "most_uses": 1},
        ),
        "organiser:people-list": Row(
            get=only("organiser", **in_cohort),
            post=only("organiser", **in_cohort),
            kwargs=cohort,
            data=lambda scene: {"pasted": "new@example.org, Newcomer"},
        ),
        "organiser:people-send": Row(
            post=only("organiser", status=302, **in_cohort),
            kwargs=cohort,
            data=lambda scene: {
                "sealed": signing.dumps(
                    [str(scene.cast.cohort.public_id), [["new@example.org", "New"]]], salt="camps.people_list"
                )
            },
        ),
        "organiser:invitation-withdraw": Row(post=only("organiser", status=302), kwargs=invitation),
        "organiser:invitation-again": Row(post=only("organiser", status=302), kwargs=invitation),
        "organiser:student": Row(get=only("organiser", **own_row), kwargs=member),
        "organiser:member-state": Row(
            post=only("organiser", status=302, **own_row),
            kwargs=member,
            data=lambda scene: {"state": "paused"},
        ),
    }


def guardian_rows() -> dict[str, Row]:
    """A guardian reads exactly what is the child's; the child's own page about guardians is the child's alone."""

    def child(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.cast.minor.public_id}

    def named(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.named.public_id}

    def thread(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.minor_thread.public_id}

    def ward(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.minor_membership.public_id}

    def camp(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.cast.camp.public_id}

    in_camp = {"student": 403, "cohort_mate": 403, "minor": 403, "coach": 403, "coach_elsewhere": 403}
    own_row = {"minor": 403, "coach": 403}
    worry = {"words": "Too many balls", "about": ""}
    bounds = {"balls_per_day": 30, "days_per_week": 3, "intake_weeks": 6}
    born = {"birth_month": 5, "birth_year": 2013}
    return {
        "guardian:home": Row(get=only("guardian")),
        "guardian:child": Row(get=only("guardian"), kwargs=child),
        "guardian:consents": Row(
            post=only("guardian", status=302), kwargs=child, data=lambda scene: {"consent-cohort": "no"}
        ),
        "guardian:birth": Row(post=only("guardian", status=302), kwargs=child, data=lambda scene: born),
        "guardian:stop": Row(post=only("guardian", status=302), kwargs=child),
        "guardian:videos": Row(get=only("guardian"), kwargs=child),
        "guardian:plan": Row(
            get=only("guardian"), kwargs=lambda scene: {"public_id": scene.minor_membership.public_id}
        ),
        "guardian:concerns": Row(
            get=only("guardian"),
            post=only("guardian", status=302),
            kwargs=child,
            data=lambda scene: worry | {"camp": scene.cast.camp.public_id},
        ),
        "guardian:thread": Row(get=only("guardian"), kwargs=thread),
        "guardian:write": Row(
            post=only("guardian", status=302),
            kwargs=thread,
            data=lambda scene: {"token": "4b0a3a39-6d0b-4b4f-9d5e-0f0f5f3a8f13", "text": "thank you"},
        ),
        "guardian:answer": Row(
            get=only("guardian"), kwargs=lambda scene: {"public_id": scene.minor_answer.public_id}
        ),
        # Whoever has the letter may look; the child's own staff and the child can't take it on.
        "guardian:accept": Row(
            get=everybody(),
            post=everybody(
                302,
                anonymous=200,
                minor=403,
                guardian=403,
                coach=403,
                organiser=403,
                # Coaches another cohort of the camp: staff all the same.
                coach_elsewhere=403,
            ),
            kwargs=lambda scene: {"token": guardian_token(scene.named)},
            data=lambda scene: {"declares": "yes"},
        ),
        "guardian:mine": Row(get=only("minor")),
        "guardian:name": Row(
            post=only("minor", status=302), data=lambda scene: {"email": "third@example.org"}
        ),
        "guardian:again": Row(post=only("minor", status=302), kwargs=named),
        "guardian:withdraw": Row(post=only("minor", status=302), kwargs=named),
        "guardian:share": Row(post=only("minor", status=302), kwargs=named),
        "guardian:end-sharing": Row(post=only("minor", status=302), kwargs=named),
        "account:consents": Row(
            get=signed_in(minor=302), post=signed_in(302), data=lambda scene: {"consent-cohort": "no"}
        ),
        "account:still-so": Row(post=signed_in(302)),
        "organiser:safety": Row(get=only("organiser", **in_camp), kwargs=camp),
        "organiser:care": Row(
            post=only("organiser", status=302, **in_camp), kwargs=camp, data=lambda scene: bounds
        ),
        # The guardian reported it; the coach whom it is about doesn't learn that it is there.
        "organiser:concern": Row(
            post=only("organiser", status=302, guardian=403),
            kwargs=lambda scene: {"public_id": scene.concern.public_id},
            data=lambda scene: {"do": "take"},
        ),
        "organiser:guardian": Row(
            post=only("organiser", status=302, **own_row),
            kwargs=lambda scene: ward(scene) | {"guardianship_id": scene.named.public_id},
            data=lambda scene: {"do": "again"},
        ),
        "organiser:birth": Row(
            post=only("organiser", status=302, **own_row),
            kwargs=ward,
            data=lambda scene: {
                f"{scene.minor_membership.public_id}-{name}": value for name, value in born.items()
            },
        ),
    }


def student_rows() -> dict[str, Row]:
    """Each student sees the own pages only; coaches and organisers have other pages for the same things."""

    def draft(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.draft.public_id}

    def answer(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.published.public_id}

    def thread(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.thread.public_id}

    token = "4b0a3a39-6d0b-4b4f-9d5e-0f0f5f3a8f11"
    said = {"token": token, "club_class": "iron", "pain_today": "no"}
    return {
        "student:home": Row(get=only("student", "cohort_mate", "minor")),
        "student:progress": Row(get=only("student", "cohort_mate", "minor")),
        "student:new": Row(
            get=only("student", "cohort_mate", "minor"),
            post=only("student", "cohort_mate", "minor", status=302),
            data=lambda scene: said | {"range_day": timezone.localdate().isoformat()},
        ),
        "student:submission": Row(
            get=only("student"), kwargs=lambda scene: {"public_id": scene.submission.public_id}
        ),
        "student:state": Row(get=only("student"), kwargs=draft),
        "student:edit": Row(
            get=only("student"),
            post=only("student", status=302),
            kwargs=draft,
            data=lambda scene: said | {"range_day": timezone.localdate().isoformat()},
        ),
        "student:send": Row(post=only("student", status=302), kwargs=draft),
        "student:withdraw": Row(post=only("student", status=302), kwargs=draft),
        "student:answer": Row(get=only("student"), kwargs=answer),
        "student:talk-film": Row(
            post=only("student", status=302),
            kwargs=lambda scene: {"public_id": scene.published.public_id, "talk_id": scene.talk.public_id},
        ),
        "student:practise": Row(
            post=only("student", status=302),
            kwargs=answer,
            data=lambda scene: {"token": token, "kind": "hurts"},
        ),
        "student:practice": Row(get=only("student", "cohort_mate", "minor")),
        "student:practise-lesson": Row(
            post=only("student", status=302),
            kwargs=lambda scene: {"public_id": scene.delivery.message.public_id},
            data=lambda scene: {"token": token, "kind": "unclear"},
        ),
        "student:thread": Row(get=only("student"), kwargs=thread),
        "student:reply": Row(
            post=only("student", status=302),
            kwargs=thread,
            data=lambda scene: {"token": token, "text": "yes"},
        ),
    }


def coach_rows() -> dict[str, Row]:
    """A coach works in the own cohorts. The organiser sees the same things there, and doesn't answer for the coach."""
    staff_sees = {"organiser": 403}
    own_row = {"student": 403}

    def review(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.review.public_id}

    def published(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.published.public_id}

    def member(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.membership.public_id}

    def thread(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.thread.public_id}

    def verb(**data: str) -> Row:
        return Row(post=only("coach", status=302, **staff_sees), kwargs=review, data=lambda scene: data)

    said = {"text": "How did it go?"}
    return {
        "coach:queue": Row(get=signed_in(403, coach=200, coach_elsewhere=200)),
        "coach:release": verb(),
        "coach:defer": verb(wait="hours"),
        "coach:no-answer-needed": verb(),
        "coach:hand-over": Row(
            post=only("coach", status=302, **staff_sees),
            kwargs=review,
            data=lambda scene: {"to": scene.cast.coach_elsewhere.public_id, "note": "yours"},
        ),
        "coach:reply-to": Row(get=only("coach", "organiser", status=302, **own_row), kwargs=published),
        "coach:allow-clip": Row(
            post=only("coach", status=302, organiser=403, **own_row),
            kwargs=lambda scene: {"public_id": scene.clip.public_id},
        ),
        "coach:student": Row(get=only("coach", "organiser", **own_row), kwargs=member),
        "coach:clear-alert": Row(
            post=only("coach", status=302, organiser=403, **own_row),
            kwargs=member,
            data=lambda scene: {"ground": "seen", "words": "the doctor said yes"},
        ),
        "coach:park": Row(
            post=only("coach", status=302, organiser=403, **own_row),
            kwargs=member,
            data=lambda scene: {"words": "the grip"},
        ),
        **{
            f"coach:{name}": Row(
                post=only("coach", status=302, organiser=403),
                kwargs=lambda scene: {"public_id": scene.parked.public_id},
            )
            for name in ("take-up", "unpark")
        },
        "coach:write-first": Row(
            post=only("coach", status=302, organiser=403, **own_row),
            kwargs=member,
            data=lambda scene: said,
        ),
        "coach:thread": Row(get=only("coach", "organiser", **own_row), kwargs=thread),
        "coach:write": Row(
            post=only("coach", status=302, organiser=403, **own_row),
            kwargs=thread,
            data=lambda scene: said,
        ),
    }


def desk_rows() -> dict[str, Row]:
    """Only coaches of the cohort work at a desk. Nobody holds the scene's review, so most verbs end with a message."""
    staff_sees = {"organiser": 403}

    def review(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.review.public_id}

    def verb(**data: str) -> Row:
        return Row(post=only("coach", status=302, **staff_sees), kwargs=review, data=lambda scene: data)

    return {
        "coach:desk": Row(get=only("coach", **staff_sees), kwargs=review),
        "coach:desk-check": Row(get=only("coach", **staff_sees), kwargs=review),
        "coach:desk-take": verb(),
        "coach:desk-answer": verb(revision="0", priority="turf first"),
        "coach:desk-publish": verb(revision="0"),
        "coach:desk-ask": verb(text="Does your back hurt?"),
        "coach:desk-marks": Row(
            post=only("coach", status=302, **staff_sees),
            kwargs=review,
            data=lambda scene: {"revision": 0, "marks": [], "moments": []},
            content_type="application/json",
        ),
        "coach:desk-judge": Row(
            post=only("coach", status=302, **staff_sees),
            kwargs=review,
            data=lambda scene: {"swing": scene.swing.public_id, "sign": "early_release", "verdict": "agree"},
        ),
        "coach:desk-correct": Row(
            post=only("coach", status=302, **staff_sees),
            kwargs=review,
            data=lambda scene: {"swing": scene.swing.public_id, "event": "top", "t_s": "1.1"},
        ),
        "coach:desk-joint": verb(joint="left_wrist", do="back"),
        "coach:desk-ahead": Row(get=only("coach", **staff_sees), kwargs=review),
        "coach:desk-beside": Row(
            get=only("coach", **staff_sees),
            kwargs=review,
            query=lambda scene: {"first": scene.swing.public_id, "second": scene.reference.clip.public_id},
        ),
        "coach:desk-comparisons": Row(
            get=only("coach", status=302, **staff_sees),
            post=only("coach", status=302, **staff_sees),
            kwargs=review,
            data=lambda scene: {"uid": "0", "first": str(scene.swing.public_id)},
            content_type="application/json",
        ),
        "coach:desk-comparison-drop": Row(
            post=only("coach", status=302, **staff_sees),
            kwargs=lambda scene: {"public_id": scene.review.public_id, "uid": scene.review.public_id},
        ),
        "coach:desk-talks": Row(
            get=only("coach", status=302, **staff_sees),
            post=only("coach", status=302, **staff_sees),
            kwargs=review,
            data=lambda scene: {"talk": "0"},
            content_type="application/json",
        ),
        "coach:desk-talk": Row(
            post=only("coach", status=302, organiser=403, student=403),
            kwargs=lambda scene: {"public_id": scene.published.public_id, "talk_id": scene.talk.public_id},
            data=lambda scene: {"caption": "words"},
        ),
        "coach:desk-voice": Row(
            get=only("coach", status=302, **staff_sees),
            post=only("coach", status=302, **staff_sees),
            kwargs=review,
        ),
        "coach:desk-explanation": Row(
            post=only("coach", status=302, organiser=403),
            kwargs=lambda scene: {
                "public_id": scene.review.public_id,
                "explanation_id": scene.explanation.public_id,
            },
            data=lambda scene: {"do": "forget"},
        ),
        "coach:desk-voice-note": Row(
            post=only("coach", status=302, organiser=403, student=403),
            kwargs=lambda scene: {
                "public_id": scene.published.public_id,
                "note_id": scene.voice.public_id,
            },
            data=lambda scene: {"caption": "words"},
        ),
    }


def library_rows() -> dict[str, Row]:
    """A reference is used by its owner, and where it is shared by the camp's coaches; only the owner changes it."""

    def shared(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.reference.public_id}

    def private(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.bare_reference.public_id}

    def said(scene: Scene) -> dict[str, str]:
        words = {"title": "Seven iron", "kind": "swing", "view": "dtl", "handedness": "right"}
        return words | {"club_class": "iron", "rights": "myself", "camp": str(scene.cast.camp.public_id)}

    return {
        "coach:references": Row(get=signed_in(403, coach=200, coach_elsewhere=200)),
        "coach:reference-new": Row(
            get=signed_in(403, coach=200, coach_elsewhere=200),
            post=signed_in(403, coach=302, coach_elsewhere=302),
            data=said,
        ),
        "coach:reference": Row(
            get=only("coach", "coach_elsewhere"),
            post=only("coach", status=302, coach_elsewhere=403),
            kwargs=shared,
            data=said,
        ),
        "coach:reference-share": Row(
            post=only("coach", status=302, coach_elsewhere=403),
            kwargs=shared,
            data=lambda scene: {"shared": "no"},
        ),
        "coach:reference-delete": Row(post=only("coach", status=302), kwargs=private),
        "uploads:reference-form": Row(
            post=only("coach", status=302, coach_elsewhere=403),
            kwargs=shared,
        ),
    }


def reasoning_rows() -> dict[str, Row]:
    """From the miss to the root: the coach's desk and camp pages, and the student's side of them."""
    staff_sees = {"organiser": 403}
    # In the camp, and no coach of it; the other coach of the camp has cohorts of the own there.
    in_camp = {"student": 403, "cohort_mate": 403, "minor": 403}

    def review(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.review.public_id}

    def camp(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.cast.camp.public_id}

    def verb(**data: str) -> Row:
        return Row(post=only("coach", status=302, **staff_sees), kwargs=review, data=lambda scene: data)

    def lesson(scene: Scene) -> dict[str, Any]:
        return camp(scene) | {"ground": "idea", "key": "bel_lift"}

    return {
        "coach:desk-reasoning": Row(get=only("coach", status=302, **staff_sees), kwargs=review),
        "coach:desk-eye": verb(seen="wrist_top:flat"),
        "coach:desk-eye-back": Row(
            post=only("coach", status=302, **staff_sees),
            kwargs=lambda scene: review(scene) | {"seen_id": scene.seen.public_id},
        ),
        "coach:desk-read": Row(
            post=only("coach", status=302, **staff_sees),
            kwargs=lambda scene: review(scene) | {"question_id": scene.question.public_id},
            data=lambda scene: {"reading": "shows"},
        ),
        "coach:desk-take-path": verb(root="bel_lift"),
        "coach:desk-fate": verb(fate="confirmed", version="nothing"),
        "coach:desk-opinion": verb(root="the grip"),
        "coach:said-back": Row(
            post=only("coach", status=302, organiser=403, student=403),
            kwargs=lambda scene: {"public_id": scene.said.public_id},
            data=lambda scene: {"grasp": "understood"},
        ),
        "coach:course": Row(
            get=only("coach", "organiser", student=403),
            kwargs=lambda scene: {"public_id": scene.membership.public_id},
        ),
        "coach:camp-findings": Row(get=only("coach", "coach_elsewhere", "organiser", **in_camp), kwargs=camp),
        "coach:drills": Row(get=only("coach", "coach_elsewhere", "organiser", **in_camp), kwargs=camp),
        "coach:drill-new": Row(
            get=only("coach", "coach_elsewhere", organiser=403, **in_camp),
            post=only("coach", "coach_elsewhere", organiser=403, status=422, **in_camp),
            kwargs=camp,
        ),
        "coach:drill": Row(
            get=only("coach", "coach_elsewhere", organiser=403, **in_camp),
            post=only("coach", "coach_elsewhere", organiser=403, status=422, **in_camp),
            kwargs=lambda scene: {"public_id": scene.own_drill.public_id},
        ),
        "coach:drill-retire": Row(
            post=only("coach", "coach_elsewhere", organiser=403, status=302, **in_camp),
            kwargs=lambda scene: {"public_id": scene.own_drill.public_id},
        ),
        "coach:camp-map": Row(get=only("coach", "coach_elsewhere", "organiser", **in_camp), kwargs=camp),
        "coach:camp-map-change": Row(
            post=only("coach", "coach_elsewhere", status=302, organiser=403, **in_camp),
            kwargs=camp,
            data=lambda scene: {"do": "off", "edge": "bel_lift>im_scoop"},
        ),
        "coach:lesson": Row(
            get=only("coach", organiser=403, **in_camp),
            post=only("coach", status=302, organiser=403, **in_camp),
            kwargs=lesson,
            data=lambda scene: {"text": "The loft lifts the ball."},
        ),
        "student:findings": Row(get=only("student", "cohort_mate", "minor")),
        "student:say-back": Row(
            post=only("student", status=302),
            kwargs=lambda scene: {"public_id": scene.published.public_id},
            data=lambda scene: {"text": "the loft"},
        ),
        "student:answer-question": Row(
            post=only("student", status=302),
            kwargs=lambda scene: {"public_id": scene.question.public_id},
            data=lambda scene: {"token": "4b0a3a39-6d0b-4b4f-9d5e-0f0f5f3a8f12", "text": "up"},
        ),
    }


def plan_rows() -> dict[str, Row]:
    """Tasks of a camp: students see their own plan, whoever coaches or organises sets it."""
    asked = UUID("6d0f2c64-4c1c-4b5e-9a55-0c9a3f1b7e10")
    said = UUID("0b8f7a52-1f5d-4a39-8d6e-5b7a4f0c2d11")
    staff = ("organiser", "coach", "coach_elsewhere")
    in_camp = {"student": 403, "cohort_mate": 403, "minor": 403}

    def task(scene: Scene) -> dict[str, Any]:
        return {"public_id": asked}

    def camp(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.cast.camp.public_id}

    def given(scene: Scene) -> dict[str, Any]:
        day = scene.cast.camp.starts_on.isoformat()
        return {"words": "Three irons", "opens_on": day, "due_on": day, "views": ["dtl"], "swings": 3}

    def ask(scene: Scene) -> None:
        first = scene.cast.camp.starts_on
        CampTask.objects.create(
            public_id=asked,
            camp=scene.cast.camp,
            words="Five drivers",
            views=["dtl"],
            opens_on=first,
            due_on=first,
            created_at=timezone.now(),
        )

    def hello(scene: Scene) -> None:
        cast, now = scene.cast, timezone.now()
        greeting = Hello.objects.create(
            public_id=said, cohort=cast.cohort, by=cast.coach, words="Good to have you here", created_at=now
        )
        HelloRecording.objects.create(hello=greeting, queued_at=now, created_at=now)

    def make_key(scene: Scene) -> None:
        renew_key(scene.cast.student, now=timezone.now())

    # A guardian reads the plan along with the child, and sets nothing.
    sets = only(*staff, status=302, guardian=403, **in_camp)
    return {
        "guide": Row(get=everybody()),
        "guide-worker": Row(get=everybody()),
        "script-words": Row(get=everybody(), kwargs=lambda scene: {"code": "en", "digest": "0"}),
        "calendar:feed": Row(
            get=everybody(),
            kwargs=lambda scene: {"token": token_of_calendar(CalendarKey.objects.get())},
            prepare=make_key,
        ),
        "account:calendar": Row(get=signed_in(), post=signed_in(302), data=lambda scene: {"do": "renew"}),
        "student:plan": Row(get=only("student", "cohort_mate", "minor")),
        "student:last-day": Row(get=only("student", "cohort_mate", "minor")),
        "organiser:plan": Row(
            get=only(*staff, **in_camp), post=only(*staff, status=302, **in_camp), kwargs=camp, data=given
        ),
        "organiser:task": Row(
            get=only(*staff, guardian=403, **in_camp), post=sets, kwargs=task, data=given, prepare=ask
        ),
        "organiser:task-retire": Row(post=sets, kwargs=task, prepare=ask),
        # An organiser doesn't speak for a coach.
        "organiser:hello": Row(
            post=only("coach", status=302, organiser=403, **in_camp),
            kwargs=lambda scene: {"public_id": scene.cast.cohort.public_id},
            data=lambda scene: {f"{scene.cast.cohort.public_id}-words": "Welcome"},
        ),
        "organiser:hello-unrecord": Row(
            post=only(
                "coach", "organiser", status=302, student=403, cohort_mate=403, minor=403, guardian=403
            ),
            kwargs=lambda scene: {"public_id": said},
            prepare=hello,
        ),
    }


def media_rows() -> dict[str, Row]:
    """Uploads answer a script, so a signed-out one gets 401 and not a page; a media link is bound to its person."""
    tus = {"Tus-Resumable": "1.0.0"}

    def announced(scene: Scene) -> dict[str, str]:
        values = {"submission": str(scene.draft.public_id), "view": "dtl"}
        pairs = (f"{name} {base64.b64encode(value.encode()).decode()}" for name, value in values.items())
        return tus | {"Upload-Length": "10", "Upload-Metadata": ",".join(pairs)}

    def in_storage(scene: Scene) -> None:
        scene.clip.rendition_key = default_storage.save("renditions/scene.mp4", ContentFile(b"pictures"))
        scene.clip.save(update_fields=["rendition_key"])

    def link(scene: Scene) -> dict[str, Any]:
        address = urlsplit(media_link("clip.rendition", scene.clip, scene.cast.student))
        return dict(parse_qsl(address.query))

    return {
        "uploads:uploads": Row(
            options=everybody(204), post=only("student", status=201, anonymous=401), headers=announced
        ),
        "uploads:upload": Row(
            options=everybody(204),
            head=only("student", anonymous=401),
            patch=only("student", status=204, anonymous=401),
            delete=only("student", status=204, anonymous=401),
            kwargs=lambda scene: {"public_id": scene.upload.public_id},
            headers=lambda scene: tus | {"Upload-Offset": "0"},
            content_type="application/offset+octet-stream",
            data=lambda scene: b"first bytes",  # type: ignore[arg-type,return-value]
        ),
        "uploads:form": Row(
            post=only("student", status=302),
            kwargs=lambda scene: {"public_id": scene.draft.public_id},
            data=lambda scene: {"view": "dtl"},
        ),
        "media:file": Row(
            get=only("student", otherwise=403, anonymous=403),
            head=only("student", otherwise=403, anonymous=403),
            kwargs=lambda scene: {"kind": "clip.rendition", "public_id": scene.clip.public_id},
            query=link,
            prepare=in_storage,
        ),
    }


def case_rows() -> dict[str, Row]:
    """Lessons from covered swings: made by the cohort's coach, read by whom they went to and whom they show."""

    def draft(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.case.public_id}

    def posted(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.posted_case.public_id}

    making = only("coach", status=302, organiser=403)
    return {
        "cases:list": Row(get=signed_in()),
        "cases:case": Row(get=only("student", "cohort_mate", "coach", "organiser"), kwargs=posted),
        "cases:name": Row(
            post=only("student", status=302, cohort_mate=403, coach=403, organiser=403),
            kwargs=posted,
            data=lambda scene: {"name": "yes"},
        ),
        "cases:take-down": Row(
            post=only("student", "coach", "organiser", status=302, cohort_mate=403), kwargs=posted
        ),
        "cases:new": Row(
            get=only("coach", student=403, organiser=403),
            post=only("coach", student=403, organiser=403),
            kwargs=lambda scene: {"public_id": scene.published.public_id},
        ),
        "cases:look": Row(
            get=only("coach", organiser=403), post=making, kwargs=draft, data=lambda scene: {"sheet": "1"}
        ),
        "cases:again": Row(post=making, kwargs=draft, data=lambda scene: {"margin": "1.5"}),
        "cases:post": Row(post=making, kwargs=draft),
    }


def data_rows() -> dict[str, Row]:
    """A person's own data: oneself, and for a minor the guardian. An organiser may only delete."""
    own = {"kwargs": lambda scene: {"public_id": scene.cast.minor.public_id}}
    proof = {"sure": "on", "password": PASSWORD}
    return {
        "data:person": Row(get=only("minor", "guardian"), **own),
        "data:order": Row(post=only("minor", "guardian", status=302), **own),
        "data:keep": Row(
            post=only("minor", "guardian", status=302),
            data=lambda scene: {"camp": str(scene.cast.camp.public_id), "keep": "yes"},
            **own,
        ),
        "data:erase": Row(
            get=only("minor", "guardian", "organiser"),
            post=only("guardian", "organiser", status=302, minor=200),
            data=lambda scene: proof,
            **own,
        ),
        "data:erase-sent": Row(
            get=only("student"),
            post=only("student", status=302),
            data=lambda scene: proof,
            kwargs=lambda scene: {"public_id": scene.submission.public_id},
        ),
        "data:retention": Row(
            get=only("organiser", student=403, cohort_mate=403, minor=403, coach=403, coach_elsewhere=403),
            kwargs=lambda scene: {"public_id": scene.cast.camp.public_id},
        ),
    }


def api_rows() -> dict[str, Row]:
    """To a browser that is signed in the API gives nothing: it wants a key."""
    refused = everybody(401)
    plain = {f"api:{name}": Row(get=refused) for name in api_routes.PLAIN}
    of_one = {f"api:{name}": Row(get=refused, kwargs=ids) for name, ids in api_routes.OF_ONE.items()}
    said = {"data": lambda scene: {"text": "hello"}, "content_type": "application/json"}
    return {
        **plain,
        **of_one,
        "api:messages": Row(get=refused, post=refused, kwargs=api_routes.THREAD, **said),
        "api:say": Row(get=refused, post=refused, kwargs=api_routes.THREAD, **said),
        "api:openapi-json": Row(get=everybody(), post=everybody()),
        "api:api-root": Row(get=everybody(404)),
        "api-guide": Row(get=everybody()),
        "account:keys": Row(
            get=signed_in(), post=signed_in(), data=lambda scene: {"name": "tests", "days": 30}
        ),
        # Somebody else's key is out of sight.
        "account:key-end": Row(
            post=only("student", status=302), kwargs=lambda scene: {"public_id": scene.key.public_id}
        ),
    }


def progress_rows() -> dict[str, Row]:
    """One page for the student, who reads along and the own staff; a cohort's page is its staff's alone."""

    def place(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.membership.public_id}

    def ward(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.minor_membership.public_id, "key": "face_on.iron.60"}

    def second_day(scene: Scene) -> None:
        """A pair needs two range days."""
        minor, cohort = scene.minor_membership.user, scene.cast.cohort
        sent = factories.make_submission(
            minor, cohort, state=SubmissionState.ANSWERED, range_day=date(2026, 6, 2)
        )
        factories.make_swing(factories.make_clip(sent))
        out = {"state": "published", "published_at": factories.NOW, "published_by": scene.cast.coach}
        factories.make_review(sent, **out)

    inside = {"student": 403, "cohort_mate": 403, "minor": 403}
    return {
        "progress:student": Row(get=only("student", "coach", "organiser"), kwargs=place),
        "progress:beside": Row(
            get=only("minor", "guardian", "coach", "organiser"), kwargs=ward, prepare=second_day
        ),
        "progress:cohort": Row(
            get=only("coach", "organiser", **inside),
            kwargs=lambda scene: {"public_id": scene.cast.cohort.public_id},
        ),
    }


def report_rows() -> dict[str, Row]:
    def place(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.membership.public_id}

    def cohort(scene: Scene) -> dict[str, Any]:
        return {"public_id": scene.cast.cohort.public_id}

    # Who studies in the cohort sees that it is there, and gets no count of the others.
    inside = {"student": 403, "cohort_mate": 403, "minor": 403}
    return {
        "reports:student": Row(get=only("student", "coach", "organiser"), kwargs=place),
        "reports:cohort": Row(get=only("coach", "organiser", **inside), kwargs=cohort),
    }


ROUTES: dict[str, Row] = {
    **api_rows(),
    "home": Row(get=signed_in(302, outsider=200)),
    "alive": Row(get=everybody()),
    **organiser_rows(),
    **guardian_rows(),
    **student_rows(),
    **plan_rows(),
    **coach_rows(),
    **desk_rows(),
    **reasoning_rows(),
    **media_rows(),
    **library_rows(),
    **case_rows(),
    **data_rows(),
    **report_rows(),
    **progress_rows(),
    "account:me": Row(
        get=signed_in(),
        post=signed_in(302),
        data=lambda scene: {"name": "New Name", "time_zone": "Europe/Oslo", "units": "metric"},
    ),
    "account:sign-in": Row(get=everybody(302, anonymous=200), post=everybody(302, anonymous=200)),
    "account:sign-out": Row(post=everybody(302)),
    "account:password": Row(get=signed_in(), post=signed_in()),
    "account:notices": Row(get=signed_in()),
    "account:mail": Row(
        post=signed_in(302), data=lambda scene: {"rhythm": "daily", "quiet_from": 21, "quiet_to": 7}
    ),
    # Somebody else's news is out of sight.
    "account:notice": Row(
        get=only("student", status=302), kwargs=lambda scene: {"public_id": scene.notice.public_id}
    ),
    "account:unsubscribe": Row(
        get=everybody(),
        post=everybody(),
        kwargs=lambda scene: {"token": unsubscribe_token(scene.cast.student)},
    ),
    "account:language": Row(post=everybody(302), data=lambda scene: {"language": "en"}),
    "account:code": Row(get=everybody(302), post=everybody(302)),
    "account:second-factor": Row(get=signed_in(), post=signed_in(422), data=lambda scene: {"code": "x"}),
    "account:second-factor-change": Row(post=signed_in(422), data=lambda scene: {"code": "x"}),
    "account:doors": Row(get=signed_in()),
    "account:doors-close": Row(post=signed_in(302)),
    # Somebody else's browser is out of sight.
    "account:door-close": Row(
        post=only("student", status=302), kwargs=lambda scene: {"public_id": scene.door.public_id}
    ),
    "account:address": Row(get=signed_in(), post=signed_in(422)),
    "account:address-confirm": Row(
        get=signed_in(302), post=signed_in(302), kwargs=lambda scene: {"token": "no-such-token"}
    ),
    "account:reset": Row(
        get=everybody(), post=everybody(302), data=lambda scene: {"email": scene.cast.student.email}
    ),
    "account:reset-sent": Row(get=everybody()),
    "account:reset-confirm": Row(
        get=everybody(), post=everybody(), kwargs=lambda scene: {"uidb64": "MQ", "token": "no-such-token"}
    ),
    "account:join": Row(
        get=everybody(student=302, cohort_mate=302, minor=302),
        post=everybody(302, coach=403, coach_elsewhere=403, organiser=403, anonymous=200),
        kwargs=lambda scene: {"token": token_of(scene.invitation)},
    ),
    "account:intake": Row(
        get=signed_in(302, student=200, cohort_mate=200, minor=200),
        post=signed_in(302, student=200, cohort_mate=200, minor=200),
    ),
    "account:pain-advice": Row(get=signed_in(302)),
}
