"""One review on a coach's desk, with pictures that play and lines over them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from playwright.sync_api import Page, expect

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.feedback.domain.reviews import claim_review
from coachhub.feedback.models import Review
from coachhub.swings.models import Swing
from tests import factories
from tests.e2e.clips import give_picture, give_tracks
from tests.e2e.conftest import OpenPage


@dataclass(frozen=True)
class DeskScene:
    coach: User
    student: User
    review: Review
    swing: Swing
    second: Swing
    times_us: list[int]

    @property
    def path(self) -> str:
        return f"/coach/desk/{self.review.public_id}/"


def at_the_desk(open_page: OpenPage, scene: DeskScene, **options: Any) -> Page:
    """The coach's page, with its first frame on screen."""
    page = open_page(scene.coach, scene.path, **options)
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    return page


def make_desk_scene(*, variable: bool = False, take: bool = True) -> DeskScene:
    cohort = factories.make_cohort()
    coach = factories.make_user("Ines Falk")
    factories.join(coach, cohort, Role.COACH)
    student = factories.make_student(cohort, "Tomi Aalto")
    submission = factories.make_submission(student, cohort, intent_words="I try to help it up")
    clip = factories.make_clip(submission)
    times = give_picture(clip, variable=variable)
    swing = factories.make_swing(clip, data=readout())
    give_tracks(swing, times)
    other = factories.make_clip(submission, view="dtl")
    second_times = give_picture(other, count=60)
    second = factories.make_swing(other, data=readout(view="dtl"))
    give_tracks(second, second_times)
    factories.make_drill("two-dips", name="Two dips, then through", sign="early_release")
    review = factories.make_review(submission)
    if take:
        review = claim_review(review, by=coach, now=timezone.now())
    return DeskScene(coach, student, review, swing, second, times)


def readout(view: str = "face_on") -> dict[str, Any]:
    times = {
        "address": 0.2,
        "takeaway": 0.35,
        "lead_arm_parallel_back": 0.8,
        "top": 1.1,
        "lead_arm_parallel_down": 1.25,
        "impact": 1.4,
        "finish": 2.1,
    }
    if view == "dtl":
        times = {name: t * 0.4 for name, t in times.items()}
    term = {
        "metric": "arm_shaft_lead_arm_parallel_down",
        "value": 142.3,
        "se": 4.1,
        "unit": "deg",
        "at": ["lead_arm_parallel_down"],
        "times_s": [times["lead_arm_parallel_down"]],
        "support": 0.9,
        "grade": "C",
        "source": "common practice, no study",
    }
    unseen = {"metric": "shaft_lean_impact", "value": None, "reason": "60 fps is too slow for shaft lean"}
    return factories.readout_data({}) | {
        "view": view,
        "events": {name: {"t": t, "se": 0.008} for name, t in times.items()},
        "problems": [{"code": "low_light", "sentence": "The light is low; numbers are wider than usual."}],
        "metrics": {
            "tempo_ratio": {"value": 2.71, "se": 0.2, "unit": "", "at": ["top", "impact"]},
            "trunk_tilt_impact": {"value": 14.2, "se": 1.8, "unit": "deg", "at": ["impact"]},
            "shaft_lean_impact": {"reason": "60 fps is too slow for shaft lean"},
        },
        "signs": {
            "early_release": {"level": "likely", "p": 0.86, "evidence": [term, unseen], "note": ""},
            "stalled_finish": {"level": "possible", "p": 0.42, "evidence": [], "note": ""},
            "overlong_backswing": {"level": "not_seen", "p": 0.04, "evidence": [], "note": ""},
            "steep_plane": {"level": "cant_tell", "p": None, "evidence": [], "note": "Needs down-the-line."},
        },
    }
