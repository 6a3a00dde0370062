"""Pictures of a swing's events: on the desk, with the signs, and on the student's pages; who may open them."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client
from django.utils import timezone

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp
from coachhub.feedback.models import Review
from coachhub.swings.domain.judgements import judge_sign
from coachhub.swings.models import AnalysisRun, Readout
from coachhub.web.media.links import media_link
from coachhub.web.stills import event_sheet_of
from tests import factories

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
JPEG = b"\xff\xd8\xff a picture"


def data_with_pictures() -> dict[str, Any]:
    term = {"metric": "arm_shaft_lead_arm_parallel_down", "value": 142.3, "se": 4.1, "unit": "deg"}
    term |= {
        "at": ["top", "impact"],
        "times_s": [1.2, 1.5],
        "support": 0.9,
        "grade": "C",
        "source": "practice",
    }
    sign = {"level": "likely", "p": 0.9, "evidence": [term], "note": ""}
    quiet = {"level": "not_seen", "p": 0.02, "evidence": [term], "note": ""}
    times = {"address": 0.3, "top": 1.2, "impact": 1.5}
    return factories.readout_data({}) | {
        "run_swing": 1,
        "events": {name: {"t": t, "se": 0.01} for name, t in times.items()},
        "signs": {"early_release": sign, "sway": quiet},
        "pictures": {
            "sheet": "../../elsewhere.jpg",
            "width": 510,
            "height": 640,
            "stills": {name: {"file": "../../elsewhere.jpg", "t": t} for name, t in times.items()},
        },
    }


class Scene:
    def __init__(self) -> None:
        self.cohort = factories.make_cohort()
        self.coach = factories.make_user("Ada Coach")
        factories.join(self.coach, self.cohort, Role.COACH)
        self.student = factories.make_student(self.cohort, "Tomi Aalto")
        self.submission = factories.make_submission(self.student, self.cohort)
        self.swing = factories.make_swing(factories.make_clip(self.submission), data=data_with_pictures())
        self.readout: Readout = self.swing.readouts.get()
        AnalysisRun.objects.update(result_key="measured/1")
        for name in ("sheet_1", "still_1_top", "still_1_impact", "still_1_address"):
            default_storage.save(f"measured/1/{name}.jpg", ContentFile(JPEG))
        self.review = factories.make_review(self.submission)

    def page(self, user: User, path: str) -> str:
        client = Client()
        client.force_login(user)
        answer = client.get(path)
        assert answer.status_code == 200
        return answer.content.decode()

    def desk(self) -> str:
        return self.page(self.coach, f"/coach/desk/{self.review.public_id}/")

    def publish(self) -> str:
        Review.objects.update(
            state="published", published_at=timezone.now(), published_by=self.coach, priority="Turf first"
        )
        return f"/my/answers/{self.review.public_id}/"

    def fetch(self, user: User, kind: str) -> Any:
        client = Client()
        client.force_login(user)
        return client.get(media_link(kind, self.readout, user))


@pytest.fixture
def scene() -> Scene:
    return Scene()


def pictures_in(page: str) -> list[str]:
    """The words for each event picture, in order."""
    return re.findall(r'<img src="[^"]*readout\.still[^"]*" alt="([^"]*)"', page)


def test_the_desk_shows_found_events_as_pictures_and_says_which_are_missing(scene: Scene) -> None:
    page = scene.desk()
    strip = page[page.index("The swing in pictures") :]
    assert [words.split(",")[0] for words in pictures_in(strip)] == [
        "Address at 0.30 s",
        "Top at 1.20 s",
        "Impact at 1.50 s",
    ]
    assert strip.count("not found in this clip") == 7
    assert "readout.sheet" in strip


def test_a_sign_that_speaks_up_shows_its_frames_and_a_silent_one_none(scene: Scene) -> None:
    page = scene.desk()
    assert 'aria-label="Frames behind early release"' in page
    assert 'aria-label="Frames behind sway"' not in page
    frames = page[page.index("Frames behind early release") : page.index("The swing in pictures")]
    assert [words.split(" at ")[0] for words in pictures_in(frames)] == ["Top", "Impact"]


def test_an_event_that_a_coach_moved_has_no_picture_of_the_wrong_frame(scene: Scene) -> None:
    scene.readout.data["events"]["top"]["t"] = 1.25
    sheet = event_sheet_of(scene.readout, "clip 1")
    assert sheet is not None
    top = next(still for still in sheet.stills if still.event == "top")
    assert top.kind is None
    assert "set to 1.25 s by a coach" in top.why


def test_pictures_go_to_those_who_may_see_the_swing_and_come_from_its_own_folder(scene: Scene) -> None:
    for user in (scene.coach, scene.student):
        answer = scene.fetch(user, "readout.still.top")
        assert answer.status_code == 200
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert b"".join(answer.streaming_content) == JPEG
    assert scene.fetch(scene.coach, "readout.sheet").status_code == 200
    assert scene.fetch(scene.coach, "readout.still.finish").status_code == 404
    for stranger in (factories.make_user(), factories.make_student(factories.make_cohort())):
        assert scene.fetch(stranger, "readout.still.top").status_code == 404
        assert scene.fetch(stranger, "readout.sheet").status_code == 404


def test_before_the_answer_a_student_sees_pictures_without_numbers_or_signs(scene: Scene) -> None:
    page = scene.page(scene.student, f"/my/sent/{scene.submission.public_id}/")
    assert len(pictures_in(page)) == 3
    assert "readout.sheet" not in page
    assert "arly release" not in page
    assert "not validated" in page


def test_with_the_answer_come_the_sheet_and_what_the_coach_confirmed(scene: Scene) -> None:
    judge_sign(
        scene.swing, "early_release", "agree", by=scene.coach, now=timezone.now() - timedelta(minutes=5)
    )
    page = scene.page(scene.student, scene.publish())
    assert "Early release: confirmed by the coach" in page
    assert len(pictures_in(page)) == 5
    assert "readout.sheet" in page


def test_a_sign_that_nobody_confirmed_stays_on_the_desk(scene: Scene) -> None:
    judge_sign(scene.swing, "early_release", "not_this", by=scene.coach, now=timezone.now())
    page = scene.page(scene.student, scene.publish())
    assert "arly release" not in page


def test_a_camp_that_keeps_numbers_back_keeps_the_sheet_back(scene: Scene) -> None:
    judge_sign(
        scene.swing, "early_release", "agree", by=scene.coach, now=timezone.now() - timedelta(minutes=5)
    )
    Camp.objects.update(students_see_trends=False)
    page = scene.page(scene.student, scene.publish())
    assert len(pictures_in(page)) == 3
    assert "readout.sheet" not in page
    assert "confirmed by the coach" not in page
