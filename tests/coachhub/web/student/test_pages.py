from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts.models import Intake
from coachhub.camps.enums import CampState, MemberState
from coachhub.camps.models import Camp, Membership
from coachhub.common.enums import JobState
from coachhub.feedback.domain.threads import post_feedback, post_message
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.feedback.models import Finding, Message, Practice, Review, Thread
from coachhub.swings.models import AnalysisRun, SignJudgement
from coachhub.videos.enums import ClipState, ClipWork, SubmissionState, UploadState
from coachhub.videos.models import ClipJob, Submission, Upload
from coachhub.web.words import metric_label
from tests import factories
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


@pytest.fixture
def browser(cast: Cast, client: Client) -> Client:
    client.force_login(cast.student)
    return client


def page(browser: Client, name: str, *args: Any, query: str = "") -> str:
    response = browser.get(reverse(f"student:{name}", args=args) + query)
    assert response.status_code == 200
    return response.content.decode()


def answers(**more: Any) -> dict[str, Any]:
    given = {
        "token": str(uuid.uuid4()),
        "range_day": timezone.localdate().isoformat(),
        "club_class": "iron",
        "miss_start": "left",
        "intents": ["bel_lift"],
        "pain_today": "no",
    }
    return given | more


def submission_of(cast: Cast, state: str = SubmissionState.OPEN, **more: Any) -> Submission:
    more.setdefault("range_day", timezone.localdate())
    return factories.make_submission(cast.student, cast.cohort, state=state, **more)


def answered(cast: Cast, **more: Any) -> Review:
    review = factories.make_review(
        submission_of(cast, SubmissionState.ANSWERED),
        state=ReviewState.PUBLISHED,
        published_at=timezone.now() - timedelta(hours=1),
        published_by=cast.coach,
        **more,
    )
    post_feedback(review, by=cast.coach, text=review.priority, now=timezone.now() - timedelta(hours=1))
    return review


class TestNew:
    def test_begins_a_submission_once(self, cast: Cast, browser: Client) -> None:
        said = answers()
        for _ in range(2):
            response = browser.post(reverse("student:new"), said)
        submission = Submission.objects.get()
        assert response.headers["Location"] == reverse("student:submission", args=[submission.public_id])
        assert (submission.student, submission.cohort) == (cast.student, cast.cohort)
        assert (submission.miss_start, submission.miss_curve) == ("left", "")
        assert submission.intents == ["bel_lift"]

    def test_starts_from_the_last_time_but_asks_pain_afresh(self, cast: Cast, browser: Client) -> None:
        submission_of(cast, SubmissionState.ANSWERED, intent_words="sweep it", pain_today=True)
        html = page(browser, "new")
        assert "Still so?" in html
        assert "sweep it" in html
        irons = [tag for tag in html.split("<input") if 'name="club_class"' in tag and 'value="iron"' in tag]
        assert ["checked" in tag.split(">")[0] for tag in irons] == [True]
        assert "checked" not in html.split('name="pain_today"', 1)[1].split("</ul>")[0]

    def test_the_first_one_starts_from_the_intake(self, cast: Cast, browser: Client) -> None:
        Intake.objects.filter(user=cast.student).update(miss_curve="right", intent_words="hold the face")
        html = page(browser, "new")
        assert "hold the face" in html
        assert "Still so?" not in html

    def test_without_intake_it_is_asked_first(self, cast: Cast, browser: Client) -> None:
        Intake.objects.filter(user=cast.student).delete()
        response = browser.get(reverse("student:new"))
        assert (response.status_code, response.headers["Location"]) == (302, reverse("account:intake"))

    @pytest.mark.parametrize(
        ("wrong", "said"),
        [
            ({"club_class": ""}, "This field is required"),
            ({"club_class": "putter"}, "Select a valid choice"),
            ({"pain_today": ""}, "This field is required"),
            ({"range_day": "2999-01-01"}, "lies in the future"),
            ({"range_day": "2001-01-01"}, "more than 60 days ago"),
            ({"range_day": "yesterday"}, "Enter a valid date"),
            ({"intents": ["nonsense"]}, "Select a valid choice"),
            ({"red_flags": ["hunger"]}, "Select a valid choice"),
            ({"note": "x" * 2001}, "at most 2000 characters"),
            ({"note": "nul \x00"}, "Null characters are not allowed"),
            ({"intent_words": "x" * 1001}, "at most 1000 characters"),
        ],
    )
    def test_wrong_answers_are_named_and_nothing_begins(
        self, cast: Cast, browser: Client, wrong: dict[str, Any], said: str
    ) -> None:
        response = browser.post(reverse("student:new"), answers(**wrong))
        assert response.status_code == 422
        assert said in response.content.decode()
        assert Submission.objects.count() == 0

    @pytest.mark.parametrize("token", ["", "x", "1", "4b0a3a39"])
    def test_a_tampered_token_begins_nothing(self, cast: Cast, browser: Client, token: str) -> None:
        assert browser.post(reverse("student:new"), answers(token=token)).status_code == 422
        assert Submission.objects.count() == 0

    def test_markup_in_words_stays_words(self, cast: Cast, browser: Client) -> None:
        browser.post(reverse("student:new"), answers(note="<script>alert(1)</script>"))
        submission = Submission.objects.get()
        html = page(browser, "submission", submission.public_id)
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html
        assert "<script>alert" not in html

    def test_red_flags_are_answered_with_plain_advice(self, cast: Cast, browser: Client) -> None:
        for flag, advice in (
            ("night", "See a clinician first"),
            ("chest", "call your local emergency number"),
        ):
            response = browser.post(reverse("student:new"), answers(red_flags=[flag]), follow=True)
            assert advice in response.content.decode()
        assert set(Submission.objects.values_list("pain_today", flat=True)) == {True}

    def test_another_camp_is_not_found(self, cast: Cast, browser: Client) -> None:
        address = reverse("student:new") + f"?camp={cast.other_camp.public_id}"
        assert browser.get(address).status_code == 404
        assert browser.post(address, answers()).status_code == 404
        assert browser.get(reverse("student:home") + "?camp=' OR 1=1").status_code == 404

    def test_paused_and_closed_may_read_but_not_send(self, cast: Cast, browser: Client) -> None:
        Membership.objects.filter(user=cast.student).update(state=MemberState.PAUSED)
        response = browser.post(reverse("student:new"), answers())
        assert response.status_code == 403
        assert "is paused" in response.content.decode()
        assert "Send new swings" not in page(browser, "home")
        Membership.objects.filter(user=cast.student).update(state=MemberState.ACTIVE)
        Camp.objects.filter(pk=cast.camp.pk).update(state=CampState.CLOSED)
        assert "is closed" in browser.post(reverse("student:new"), answers()).content.decode()
        assert Submission.objects.count() == 0


class TestSubmission:
    def test_sending_needs_a_clip_and_happens_once(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast, sent_at=None, settled_at=None)
        address = reverse("student:send", args=[submission.public_id])
        html = browser.post(address, follow=True).content.decode()
        assert "Add at least one clip first" in html
        factories.make_clip(submission, state=ClipState.RECEIVED)
        for _ in range(2):
            assert "Sent." in browser.post(address, follow=True).content.decode()
        submission.refresh_from_db()
        assert submission.state == SubmissionState.SENT
        assert Review.objects.count() == 1

    def test_the_upload_script_gets_json(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast)
        address = reverse("student:send", args=[submission.public_id])
        refused = browser.post(address, headers={"Accept": "application/json"})
        assert (refused.status_code, refused.json()["code"]) == (409, "no_clip")
        factories.make_clip(submission)
        assert browser.post(address, headers={"Accept": "application/json"}).json()["ok"] is True

    def test_each_clip_says_how_far_it_is(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast, SubmissionState.SENT)
        first = factories.make_clip(submission, state=ClipState.RECEIVED)
        second = factories.make_clip(submission, state=ClipState.PLAYABLE)
        factories.make_clip(
            submission, state=ClipState.REFUSED, refused_text="Nobody is in the picture. Film again."
        )
        factories.make_clip(submission, warnings=[{"code": "rate", "sentence": "Filmed at 30."}])
        now = timezone.now()
        ClipJob.objects.create(
            clip=first, work=ClipWork.CHECK, job_state=JobState.RUNNING, percent=50, queued_at=now
        )
        factories.make_run(second, job_state=JobState.RUNNING, stage="body_points", percent=25)
        html = page(browser, "submission", submission.public_id)
        assert "Arrived; the check is running" in html
        assert "It plays; the measuring is running (body points)" in html
        assert "Nobody is in the picture. Film again." in html
        assert "Filmed at 30." in html
        state = browser.get(reverse("student:state", args=[submission.public_id])).json()
        # The check is the first fifth of the way: 50 % of 20; 20 and 25 % of the other 80.
        assert [clip["percent"] for clip in state["clips"]] == [10, 40, 100, 100]
        assert state["is_moving"] is True

    def test_the_version_changes_with_a_step_not_with_a_per_cent(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast, SubmissionState.SENT)
        clip = factories.make_clip(submission, state=ClipState.PLAYABLE)
        run = factories.make_run(clip, job_state=JobState.RUNNING, percent=1)
        address = reverse("student:state", args=[submission.public_id])
        first = browser.get(address).json()["version"]
        AnalysisRun.objects.filter(pk=run.pk).update(percent=60)
        assert browser.get(address).json()["version"] == first
        submission.clips.update(state=ClipState.USABLE)
        assert browser.get(address).json()["version"] != first

    def test_a_file_that_became_no_clip_says_why(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast)
        Upload.objects.create(
            owner=cast.student,
            submission=submission,
            view="dtl",
            length=10,
            offset=10,
            state=UploadState.COMPLETE,
            refused_text="This is the same video as clip 1.",
            expires_at=timezone.now(),
            created_at=timezone.now(),
        )
        assert "This is the same video as clip 1." in page(browser, "submission", submission.public_id)

    def test_with_six_clips_there_is_no_room(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast)
        for _ in range(5):
            factories.make_clip(submission)
        assert "Add clips" in page(browser, "submission", submission.public_id)
        factories.make_clip(submission)
        assert "Add clips" not in page(browser, "submission", submission.public_id)

    def test_to_film_again_takes_clips_an_answered_one_does_not(self, cast: Cast, browser: Client) -> None:
        refilm = submission_of(cast, SubmissionState.REFILM)
        assert "Add clips" in page(browser, "submission", refilm.public_id)
        assert "Add clips" not in page(browser, "submission", answered(cast).submission.public_id)

    def test_taking_back(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast, SubmissionState.USABLE)
        factories.make_review(submission)
        browser.post(reverse("student:withdraw", args=[submission.public_id]))
        assert Review.objects.get().state == ReviewState.DROPPED
        assert "You took this back" in page(browser, "submission", submission.public_id)
        done = answered(cast).submission
        html = browser.post(reverse("student:withdraw", args=[done.public_id]), follow=True).content.decode()
        assert "already answered" in html

    def test_what_was_said_can_be_changed_before_sending_only(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast)
        address = reverse("student:edit", args=[submission.public_id])
        browser.post(address, answers(club_class="driver"))
        submission.refresh_from_db()
        assert submission.club_class == "driver"
        Submission.objects.update(state=SubmissionState.SENT)
        html = browser.post(address, answers(club_class="wedge"), follow=True).content.decode()
        assert "This was sent already" in html
        submission.refresh_from_db()
        assert submission.club_class == "driver"


class TestHome:
    def test_says_whose_turn_it_is(self, cast: Cast, browser: Client) -> None:
        assert "Send your first swings" in page(browser, "home")
        review = answered(cast)
        html = page(browser, "home")
        assert "Your coach has answered" in html
        assert reverse("student:answer", args=[review.public_id]) in html
        page(browser, "answer", review.public_id)
        assert "Your coach has answered" not in page(browser, "home")

    def test_a_reply_waits_for_the_coach_until_it_is_answered(self, cast: Cast, browser: Client) -> None:
        review = answered(cast, opened_at=timezone.now())
        waits = "You wrote to your coach, who has not answered yet."
        assert waits not in page(browser, "home")
        Review.objects.filter(pk=review.pk).update(reply_waiting_since=timezone.now())
        assert waits in page(browser, "home")

    @pytest.mark.parametrize("where", ["intake", "submission"])
    def test_a_pain_alert_stands_on_top_and_nothing_urges_to_swing(
        self, cast: Cast, browser: Client, where: str
    ) -> None:
        answered(cast, priority="Turf after ball")
        assert "The one thing you work on" in page(browser, "home")
        if where == "intake":
            Intake.objects.filter(user=cast.student).update(red_flags=["chest"])
        else:
            Submission.objects.filter(student=cast.student).update(red_flags=["chest"])
        html = page(browser, "home")
        assert "Get medical help now: don&#x27;t swing" in html or "Get medical help now: don't swing" in html
        assert "chest pain" in html
        assert "The one thing you work on" not in html
        assert "Practise the one thing" not in html

    def test_one_way_to_send_and_not_two(self, browser: Client) -> None:
        # The list of clips kept on the phone stays hidden while there are none.
        html = re.sub(r"<section data-kept[^>]* hidden .*?</section>", "", page(browser, "home"), flags=re.S)
        assert html.count(f'href="{reverse("student:new")}') == 1

    def test_the_promise_stands_in_the_readers_zone(self, cast: Cast, browser: Client) -> None:
        submission = submission_of(cast, SubmissionState.USABLE)
        due = timezone.now().replace(hour=9, minute=30, second=0, microsecond=0) + timedelta(days=1)
        factories.make_review(submission, due_at=due)
        # The cast's people live in Tokyo, nine hours ahead of UTC.
        assert "18:30" in page(browser, "home")

    @pytest.mark.parametrize("name", ["home", "progress"])
    def test_more_rows_need_no_more_queries(
        self, cast: Cast, browser: Client, name: str, django_assert_num_queries: Any
    ) -> None:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        counts = []
        for _ in range(3):
            review = answered(cast)
            for _ in range(2):
                clip = factories.make_clip(review.submission)
                factories.make_swing(clip, signs={"early_release": "likely"})
            with CaptureQueriesContext(
                connection,
            ) as queries:
                page(browser, name)
            counts.append(len(queries))
        assert counts[0] == counts[2]
        assert counts[0] <= 24


class TestAnswer:
    def test_shows_the_chain_keep_priority_cue_and_drill(self, cast: Cast, browser: Client) -> None:
        drill = factories.make_drill(stop_rule="stop if the wrist hurts", avoid_sites=["wrist"])
        review = answered(
            cast,
            priority="Turf after ball",
            cue="brush past",
            keep="the finish",
            drill=drill,
            dose="2 sets of 10",
        )
        Finding.objects.create(
            review=review, miss="thin", mechanism="head passes hands", root_kind="idea", root="lifting it"
        )
        Intake.objects.filter(user=cast.student).update(pain="past", pain_sites=["wrist"])
        html = page(browser, "answer", review.public_id)
        parts = ["thin", "head passes hands", "your idea of the strike", "lifting it", "the finish"]
        assert [part for part in parts if part not in html] == []
        assert sorted(parts[:4], key=html.index) == parts[:4]
        for part in (
            "Turf after ball",
            "brush past",
            "2 sets of 10",
            "Stop if the wrist hurts",
            "about your wrist",
        ):
            assert part in html

    def test_the_first_opening_is_recorded(self, cast: Cast, browser: Client) -> None:
        review = answered(cast)
        page(browser, "answer", review.public_id)
        review.refresh_from_db()
        first = review.opened_at
        assert first is not None
        page(browser, "answer", review.public_id)
        review.refresh_from_db()
        assert review.opened_at == first

    def test_an_unpublished_answer_is_not_there(self, cast: Cast, browser: Client) -> None:
        draft = factories.make_review(submission_of(cast, SubmissionState.USABLE), priority="secret")
        response = browser.get(reverse("student:answer", args=[draft.public_id]))
        assert response.status_code == 404
        assert "secret" not in page(browser, "home")

    def test_practised_in_two_taps_and_not_twice(self, cast: Cast, browser: Client) -> None:
        review = answered(cast)
        said = {"token": str(uuid.uuid4()), "kind": "done", "balls": "40"}
        for _ in range(2):
            browser.post(reverse("student:practise", args=[review.public_id]), said)
        assert list(Practice.objects.values_list("kind", "balls")) == [(PracticeKind.DONE, 40)]
        assert "40 balls" in page(browser, "answer", review.public_id)

    def test_it_hurts_reaches_the_coach(self, cast: Cast, browser: Client) -> None:
        review = answered(cast)
        said = {"token": str(uuid.uuid4()), "kind": "hurts", "note": "thumb"}
        address = reverse("student:practise", args=[review.public_id])
        html = browser.post(address, said, follow=True).content.decode()
        assert "Stop this drill." in html
        review.refresh_from_db()
        assert review.has_pain is True
        assert review.reply_waiting_since is not None

    @pytest.mark.parametrize(
        ("wrong", "sentence"),
        [
            ({"balls": "9999"}, "less than or equal to 500"),
            ({"balls": "many"}, "as a whole number"),
            ({"kind": "slept"}, "valid choice"),
            ({"on_day": "2999-01-01"}, "between the answer and today"),
            ({"note": "x" * 501}, "at most 500 characters"),
            ({"token": ""}, "required"),
        ],
    )
    def test_wrong_practice_is_refused_with_a_sentence(
        self, cast: Cast, browser: Client, wrong: dict[str, str], sentence: str
    ) -> None:
        review = answered(cast)
        said = {"token": str(uuid.uuid4()), "kind": "done"} | wrong
        address = reverse("student:practise", args=[review.public_id])
        assert sentence in browser.post(address, said, follow=True).content.decode()
        assert Practice.objects.count() == 0


class TestThread:
    def test_messages_in_order_with_what_is_new(self, cast: Cast, browser: Client) -> None:
        review = answered(cast, priority="Turf after ball")
        thread = Thread.objects.get()
        page(browser, "thread", thread.public_id)
        post_message(thread, by=cast.coach, text="and now the 7-iron", now=timezone.now())
        html = page(browser, "thread", thread.public_id)
        assert html.count("new-mark") == 1
        assert html.count("Turf after ball") == 1
        assert html.index("Turf after ball") < html.index("and now the 7-iron")
        assert reverse("student:answer", args=[review.public_id]) in html
        assert "new-mark" not in page(browser, "thread", thread.public_id)

    def test_a_reply_is_said_once_and_waits_for_the_coach(self, cast: Cast, browser: Client) -> None:
        review = answered(cast)
        thread = Thread.objects.get()
        said = {"token": str(uuid.uuid4()), "text": "which foot?", "about": str(review.public_id)}
        for _ in range(2):
            browser.post(reverse("student:reply", args=[thread.public_id]), said)
        message = Message.objects.get(author=cast.student)
        assert (message.text, message.review) == ("which foot?", review)
        review.refresh_from_db()
        assert review.reply_waiting_since is not None

    @pytest.mark.parametrize(
        ("text", "said"),
        [("", "Write something first"), ("  ", "Write something first"), ("x" * 4001, "yours has 4001")],
    )
    def test_nothing_and_too_much(self, cast: Cast, browser: Client, text: str, said: str) -> None:
        thread = factories.make_thread(cast.student, cast.cohort)
        data = {"token": str(uuid.uuid4()), "text": text}
        response = browser.post(reverse("student:reply", args=[thread.public_id]), data)
        assert response.status_code == 422
        assert said in response.content.decode()
        assert Message.objects.count() == 0

    def test_a_reply_about_somebody_elses_answer_is_about_nothing(self, cast: Cast, browser: Client) -> None:
        hers = factories.make_review(
            factories.make_submission(cast.cohort_mate, cast.cohort),
            state=ReviewState.PUBLISHED,
            published_at=timezone.now(),
            published_by=cast.coach,
        )
        thread = factories.make_thread(cast.student, cast.cohort)
        data = {"token": str(uuid.uuid4()), "text": "hm", "about": str(hers.public_id)}
        browser.post(reverse("student:reply", args=[thread.public_id]), data)
        assert Message.objects.get().review is None


def confirm_early_release(cast: Cast, review: Review) -> None:
    data = factories.readout_data({"early_release": "likely"})
    data["metrics"]["arm_shaft_opened_early"] = {"value": 40.0, "se": 3.0, "unit": "deg", "at": "impact"}
    swing = factories.make_swing(
        factories.make_clip(review.submission), signs={"early_release": "likely"}, data=data
    )
    SignJudgement.objects.create(
        swing=swing, sign="early_release", verdict="agree", by=cast.coach, created_at=timezone.now()
    )


class TestProgress:
    def test_confirmed_signs_of_published_answers_only(self, cast: Cast, browser: Client) -> None:
        review = answered(cast, priority="Turf after ball.")
        swing = factories.make_swing(
            factories.make_clip(review.submission), signs={"early_release": "likely", "steep_plane": "likely"}
        )
        waiting = factories.make_swing(
            factories.make_clip(submission_of(cast, SubmissionState.USABLE)),
            signs={"stalled_finish": "likely"},
        )
        for one, sign in ((swing, "early_release"), (waiting, "stalled_finish")):
            SignJudgement.objects.create(
                swing=one, sign=sign, verdict="agree", by=cast.coach, created_at=timezone.now()
            )
        html = page(browser, "progress")
        assert "Confirmed by your coach: early release" in html
        assert "Worked on: “Turf after ball.” <a" in html
        assert "steep" not in html
        assert "stalled" not in html

    def test_numbers_only_where_the_camp_shows_them(self, cast: Cast, browser: Client) -> None:
        review = answered(cast)
        confirm_early_release(cast, review)
        html = page(browser, "progress")
        assert 'class="plot-grid"' in html
        assert "One swing only" in html
        Camp.objects.filter(pk=cast.camp.pk).update(students_see_trends=False)
        html = page(browser, "progress")
        assert 'class="plot-grid"' not in html
        assert "coaches keep the measured numbers" in html

    def test_only_numbers_behind_confirmed_signs(self, cast: Cast, browser: Client) -> None:
        review = answered(cast)
        factories.make_swing(factories.make_clip(review.submission), signs={"early_release": "likely"})
        html = page(browser, "progress")
        assert "<svg" not in html
        assert "once your coach has confirmed a sign" in html
        confirm_early_release(cast, review)
        html = page(browser, "progress")
        assert metric_label("arm_shaft_opened_early").capitalize() in html
        assert metric_label("tempo_ratio").capitalize() not in html

    def test_unanswered_swings_show_no_numbers(self, cast: Cast, browser: Client) -> None:
        factories.make_swing(factories.make_clip(submission_of(cast, SubmissionState.USABLE)))
        assert "<svg" not in page(browser, "progress")
