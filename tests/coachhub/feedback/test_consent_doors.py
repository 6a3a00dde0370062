"""Nothing is sent, measured, reviewed, shown or exported without consent: each door, before it and after it ended."""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.core import mail
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts.domain import consent
from coachhub.accounts.domain.tokens import make_token
from coachhub.accounts.models import Notice, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.claims import claim_review
from coachhub.feedback.domain.lessons import send_lesson
from coachhub.feedback.domain.publishing import publish_review
from coachhub.feedback.domain.questions import ask_student
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.models import Message, Review
from coachhub.swings.domain.measuring import measure_run
from coachhub.swings.domain.runs import request_run
from coachhub.swings.models import AnalysisRun
from coachhub.swings.tasks import measure
from coachhub.videos.domain.intake import check_clip
from coachhub.videos.domain.jobs import request_work
from coachhub.videos.domain.pieces import part_path
from coachhub.videos.domain.submissions import open_submission, send_submission
from coachhub.videos.domain.uploads import Announced, begin_upload
from coachhub.videos.enums import ClipState, ClipWork, SubmissionState
from coachhub.videos.models import Clip, ClipJob, Submission, Upload
from coachhub.videos.tasks import check, make_rendition
from coachhub.web.media.links import media_link
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture(autouse=True)
def no_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    for task in (check, make_rendition, measure):
        monkeypatch.setattr(task, "delay", lambda pk: None)


@dataclass
class Way:
    """A minor's things at every stage, made while the guardian agreed."""

    cast: Cast
    draft: Submission
    upload: Upload
    waiting: Review
    clip: Clip
    published: Review

    @property
    def minor(self) -> User:
        return self.cast.minor

    def client(self, user: User) -> Client:
        client = Client()
        client.force_login(user)
        return client


@pytest.fixture
def way() -> Way:
    cast = make_cast()
    minor, cohort = cast.minor, cast.cohort
    draft = factories.make_submission(
        minor, cohort, state=SubmissionState.OPEN, sent_at=None, settled_at=None
    )
    sent = factories.make_submission(minor, cohort)
    clip = factories.make_clip(
        sent, rendition_key=default_storage.save("renditions/door.mp4", ContentFile(b"x"))
    )
    answered = factories.make_submission(minor, cohort, state=SubmissionState.ANSWERED)
    factories.make_swing(factories.make_clip(answered), signs={"early_release": "likely"})
    published = factories.make_review(
        answered, state="published", published_at=NOW, published_by=cast.coach, priority="turf first"
    )
    upload = begin_upload(draft, Announced(length=100, view="dtl"), by=minor, now=NOW)
    part_path(upload).write_bytes(b"1234")
    return Way(cast, draft, upload, factories.make_review(sent), clip, published)


def end(way: Way, *purposes: str) -> None:
    consent.withdraw(way.minor, purposes or ("analysis", "feedback"), by=way.cast.guardian, now=NOW)


def refused(do: Callable[[], object], code: str = "no_consent") -> None:
    with pytest.raises(RuleBroken) as caught:
        do()
    assert caught.value.code == code


def tus(way: Way) -> int:
    values = {"submission": str(way.draft.public_id), "view": "dtl"}
    pairs = ",".join(f"{name} {base64.b64encode(value.encode()).decode()}" for name, value in values.items())
    headers = {"Tus-Resumable": "1.0.0", "Upload-Length": "10", "Upload-Metadata": pairs}
    return way.client(way.minor).post("/uploads/", headers=headers).status_code


def form(way: Way) -> int:
    film = SimpleUploadedFile("swing.mp4", b"bytes", content_type="video/mp4")
    way.client(way.minor).post(
        reverse("uploads:form", args=[way.draft.public_id]), {"view": "dtl", "file": film}
    )
    return way.draft.clips.count()


@pytest.mark.parametrize("purpose", ["analysis", "feedback"])
def test_uploading_needs_both(way: Way, purpose: str) -> None:
    assert tus(way) == 201
    end(way, purpose)
    assert tus(way) in (403, 409)
    assert form(way) == 0
    refused(lambda: begin_upload(way.draft, Announced(length=9, view="dtl"), by=way.minor, now=NOW))


def test_the_form_takes_a_film_as_long_as_somebody_agrees(way: Way) -> None:
    assert form(way) == 1


def test_a_minor_without_any_guardian_sends_nothing(way: Way) -> None:
    alone = factories.make_minor(way.cast.cohort)
    refused(lambda: open_submission(alone, way.cast.cohort, now=NOW, club_class="iron", range_day=NOW.date()))
    page = way.client(alone).get(reverse("student:new"))
    assert page.headers["Location"] == reverse("guardian:mine")


def test_an_upload_on_its_way_is_thrown_away(way: Way) -> None:
    end(way, "analysis")
    way.upload.refresh_from_db()
    assert way.upload.state == "gone"
    assert not part_path(way.upload).exists()
    answer = way.client(way.minor).patch(
        reverse("uploads:upload", args=[way.upload.public_id]),
        b"more",
        content_type="application/offset+octet-stream",
        headers={"Tus-Resumable": "1.0.0", "Upload-Offset": "0"},
    )
    assert answer.status_code in (404, 410)


def test_a_draft_with_clips_is_not_sent(way: Way) -> None:
    factories.make_clip(way.draft)
    end(way)
    refused(lambda: send_submission(way.draft, by=way.minor, now=NOW))


def test_nothing_is_measured_and_what_waits_goes_on_once_agreed(way: Way) -> None:
    Clip.objects.filter(pk=way.clip.pk).update(state=ClipState.PLAYABLE)
    way.clip.refresh_from_db()
    run = request_run(way.clip, now=NOW)
    end(way, "analysis")
    refused(lambda: request_run(Clip.objects.get(pk=way.clip.pk), now=NOW))
    measure_run(run.pk, clock=lambda: NOW)
    assert AnalysisRun.objects.get(pk=run.pk).job_state == "waiting"
    assert AnalysisRun.objects.get(pk=run.pk).attempts == 0
    consent.give(way.minor, ["analysis"], by=way.cast.guardian, now=NOW)
    assert request_run(Clip.objects.get(pk=way.clip.pk), now=NOW) == run
    # There is no such film in storage: taking it up at all is what is looked at.
    measure_run(run.pk, clock=lambda: NOW)
    assert AnalysisRun.objects.get(pk=run.pk).attempts == 1


def test_a_received_clip_is_not_even_opened(way: Way) -> None:
    clip = factories.make_clip(way.draft, state=ClipState.RECEIVED)
    job = request_work(clip, ClipWork.CHECK, now=NOW)
    end(way, "analysis")
    assert check_clip(job.pk, clock=lambda: NOW) is False
    assert ClipJob.objects.get(pk=job.pk).job_state == "waiting"


def test_no_coach_takes_holds_or_publishes_it(way: Way) -> None:
    coach = way.cast.coach
    held = claim_review(way.waiting, by=coach, now=NOW)
    Review.objects.filter(pk=held.pk).update(words="good")
    end(way, "feedback")
    held.refresh_from_db()
    assert (held.state, held.claimed_by) == ("waiting", None)
    refused(lambda: claim_review(held, by=coach, now=NOW))
    refused(lambda: ask_student(held, "Does it hurt?", by=coach, now=NOW))
    # As in a race: the claim stood when the consent ended.
    Review.objects.filter(pk=held.pk).update(state="claimed", claimed_by=coach, claimed_at=NOW)
    refused(lambda: publish_review(held, by=coach, now=NOW))
    consent.give(way.minor, ["feedback"], by=way.cast.guardian, now=NOW)
    assert publish_review(held, by=coach, now=NOW).state == "published"


def test_the_promise_stands_still_meanwhile(way: Way) -> None:
    from coachhub.feedback.domain.clock import start_clock

    start_clock(way.waiting, now=NOW - timedelta(hours=3))
    end(way, "feedback")
    way.waiting.refresh_from_db()
    assert way.waiting.due_at is None
    consent.give(way.minor, ["feedback"], by=way.cast.guardian, now=NOW + timedelta(hours=5))
    way.waiting.refresh_from_db()
    assert way.waiting.due_at is not None


@pytest.mark.parametrize("who", ["coach", "organiser"])
def test_staff_see_nothing_of_it_and_the_family_still_does(way: Way, who: str) -> None:
    staff = way.cast.person(who)
    assert isinstance(staff, User)
    link = media_link("clip.rendition", way.clip, staff)
    assert way.client(staff).get(link).status_code == 200
    assert Submission.objects.visible_to(staff).filter(student=way.minor).count() == 2
    end(way, "feedback")
    assert way.client(staff).get(link).status_code == 404
    assert not Submission.objects.visible_to(staff).filter(student=way.minor).exists()
    assert not Review.objects.visible_to(staff).filter(submission__student=way.minor).exists()
    for reader in (way.minor, way.cast.guardian):
        assert Submission.objects.visible_to(reader).filter(student=way.minor).count() == 3
        assert way.client(reader).get(media_link("clip.rendition", way.clip, reader)).status_code == 200


def test_desk_queue_and_the_students_page_are_empty_of_it(way: Way) -> None:
    coach = way.client(way.cast.coach)
    desk = reverse("coach:desk", args=[way.waiting.public_id])
    assert way.cast.minor.name in coach.get(reverse("coach:queue")).content.decode()
    end(way, "feedback")
    assert coach.get(desk).status_code == 404
    assert way.cast.minor.name not in coach.get(reverse("coach:queue")).content.decode()
    place = way.minor.memberships.get()
    page = coach.get(reverse("coach:student", args=[place.public_id])).content.decode()
    assert "turf first" not in page
    assert "handicap 10 to 20" not in page
    assert "No guardian agrees that coaches see" in page


@pytest.mark.parametrize("name", ["signs-csv", "turnaround-csv"])
def test_exports_leave_it_out(way: Way, name: str) -> None:
    address = reverse(f"organiser:{name}", args=[way.cast.camp.public_id])
    organiser = way.client(way.cast.organiser)
    assert way.minor.name in organiser.get(address).content.decode()
    end(way, "feedback")
    assert way.minor.name not in organiser.get(address).content.decode()


def test_programs_of_the_coach_get_nothing_either(way: Way) -> None:
    _, key = make_token(
        way.cast.coach, name="tests", days=30, may_write=False, by=way.cast.coach, now=timezone.now()
    )
    swings = "/api/v1/submissions"
    before = Client().get(swings, headers={"Authorization": f"Bearer {key}"})
    ident = str(way.published.submission.public_id)
    assert ident in before.content.decode()
    end(way, "feedback")
    assert ident not in Client().get(swings, headers={"Authorization": f"Bearer {key}"}).content.decode()


class TestNoPrivateChannel:
    def test_nobody_writes_to_a_minor_whom_no_guardian_reads_along_with(self, way: Way) -> None:
        alone = factories.make_minor(way.cast.cohort)
        thread = thread_for(alone, way.cast.camp, now=NOW)
        for writer in (way.cast.coach, way.cast.organiser):
            refused(lambda by=writer: post_message(thread, by=by, text="hello", now=NOW), "no_guardian")  # type: ignore[misc]
        # Asking for help is always possible.
        post_message(thread, by=alone, text="is anybody there?", now=NOW)
        assert Message.objects.filter(thread=thread).count() == 1

    def test_a_guardian_who_leaves_closes_the_channel(self, way: Way) -> None:
        from coachhub.accounts.domain.guardians import end as step_back
        from coachhub.accounts.models import Guardianship

        thread = thread_for(way.minor, way.cast.camp, now=NOW)
        post_message(thread, by=way.cast.coach, text="hello", now=NOW)
        step_back(Guardianship.objects.get(child=way.minor), by=way.cast.guardian, now=NOW)
        refused(lambda: post_message(thread, by=way.cast.coach, text="more", now=NOW), "no_guardian")

    def test_a_lesson_for_many_passes_such_a_minor_by(self, way: Way) -> None:
        alone = factories.make_minor(way.cast.cohort)
        send_lesson(
            way.cast.camp,
            ground="idea",
            key="bel_lift",
            text="The loft lifts the ball.",
            students=[alone, way.minor],
            by=way.cast.coach,
            now=NOW,
        )
        assert set(Message.objects.values_list("thread__student", flat=True)) == {way.minor.pk}

    def test_the_guardian_reads_each_message_and_writes_marked(self, way: Way) -> None:
        thread = thread_for(way.minor, way.cast.camp, now=NOW)
        post_message(thread, by=way.cast.coach, text="shorter swings please", now=NOW)
        guardian = way.client(way.cast.guardian)
        address = reverse("guardian:thread", args=[thread.public_id])
        assert "shorter swings please" in guardian.get(address).content.decode()
        said = {"token": "4b0a3a39-6d0b-4b4f-9d5e-0f0f5f3a8f99", "text": "He is tired this week"}
        guardian.post(reverse("guardian:write", args=[thread.public_id]), said)
        message = Message.objects.get(text="He is tired this week")
        assert message.kind == "guardian"
        # The child is told of it, and the writer isn't told of the own words.
        told = Notice.objects.filter(about=str(message.public_id))
        assert [notice.person for notice in told] == [way.minor]
        # The coach's turn, as with any other word to the coach.
        assert Review.objects.filter(
            reply_waiting_since__isnull=False, submission__student=way.minor
        ).exists()
        for reader, page in (
            (way.minor, reverse("student:thread", args=[thread.public_id])),
            (way.cast.coach, reverse("coach:thread", args=[thread.public_id])),
        ):
            shown = way.client(reader).get(page).content.decode()
            assert "He is tired this week" in shown
            assert '<span class="tag">guardian</span>' in shown

    def test_the_private_note_between_coaches_stays_theirs(self, way: Way) -> None:
        Review.objects.filter(pk=way.published.pk).update(private_note="watch the parents' worries")
        guardian = way.client(way.cast.guardian)
        for address in (
            reverse("guardian:answer", args=[way.published.public_id]),
            reverse("guardian:child", args=[way.minor.public_id]),
        ):
            page = guardian.get(address)
            assert page.status_code == 200
            assert "watch the parents" not in page.content.decode()

    def test_a_guardian_gets_the_letter_about_the_answer_too(self, way: Way) -> None:
        from coachhub.accounts.domain.notices import send_waiting
        from coachhub.feedback.domain.mailing import tell_of_answer

        assert tell_of_answer(way.published.pk, now=NOW)
        assert send_waiting(NOW + timedelta(minutes=3)) == 2
        letters = {letter.to[0]: letter for letter in mail.outbox}
        assert set(letters) == {way.minor.email, way.cast.guardian.email}
        theirs = letters[way.cast.guardian.email]
        assert reverse("guardian:answer", args=[way.published.public_id]) in theirs.body
        assert way.minor.name not in theirs.subject + theirs.body

    def test_a_guardian_is_told_of_a_pain_alert(self, way: Way) -> None:
        address = reverse("guardian:child", args=[way.minor.public_id])
        assert "ticked a pain alert" not in way.client(way.cast.guardian).get(address).content.decode()
        factories.make_intake(
            way.minor, age_band="under_18", red_flags=["lasting"], created_at=timezone.now()
        )
        page = way.client(way.cast.guardian).get(address).content.decode()
        assert "ticked a pain alert" in page
        assert "pain for more than two weeks" in page
