"""A student over three range days: answered twice, with a confirmed sign, pictures, a drill and practice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from io import BytesIO
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from coachhub.accounts.models import User
from coachhub.camps.models import Membership
from coachhub.feedback.models import FindingVersion, Practice, Review
from coachhub.swings.models import AnalysisRun, Readout, SignFlag, SignJudgement
from coachhub.videos.enums import SubmissionState
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

# The number behind the sign that the coach confirms, and one behind a sign that nobody looked at.
CONFIRMED, UNREVIEWED = "early_release", "sway"
BEHIND = "arm_shaft_lead_arm_parallel_down"
EVENTS = {"address": 0.3, "top": 1.2, "impact": 1.5}


def jpeg() -> bytes:
    out = BytesIO()
    Image.new("RGB", (270, 340), (90, 130, 90)).save(out, "JPEG")
    return out.getvalue()


def measured(value: float) -> dict[str, Any]:
    metric = {"value": value, "se": 1.0, "unit": "deg", "at": "lead_arm_parallel_down"}
    hidden = {"value": 11.0, "se": 1.0, "unit": "pct", "at": "top"}
    stills = {name: {"file": "x.jpg", "t": t} for name, t in EVENTS.items()}
    return factories.readout_data({}) | {
        "run_swing": 1,
        "events": {name: {"t": t, "se": 0.01} for name, t in EVENTS.items()},
        "metrics": {BEHIND: metric, "pelvis_shift_top": hidden},
        "pictures": {"width": 270, "height": 340, "stills": stills},
    }


@dataclass
class Told:
    cast: Cast
    place: Membership
    reviews: list[Review]

    def get(self, person: User, public_id: Any = None) -> HttpResponse:
        client = Client()
        client.force_login(person)
        return client.get(reverse("reports:student", args=[public_id or self.place.public_id]))

    def paper(self, person: User, public_id: Any = None) -> PdfReader:
        answer = self.get(person, public_id)
        assert answer.status_code == 200
        assert answer.headers["Content-Type"] == "application/pdf"
        return PdfReader(BytesIO(answer.content))


def text_of(paper: PdfReader) -> str:
    """All words with single spaces: lines break where the page ends."""
    return " ".join(" ".join(page.extract_text() for page in paper.pages).split())


def structure(node: Any) -> list[Any]:
    """The tags of a paper from its root down."""
    node = node.get_object() if hasattr(node, "get_object") else node
    if isinstance(node, list):
        return [found for each in node for found in structure(each)]
    if not isinstance(node, dict):
        return []
    return [node, *structure(node.get("/K", []))]


def make_told() -> Told:
    cast = make_cast()
    return Told(cast, Membership.objects.get(user=cast.student, camp=cast.camp), tell(cast, cast.student))


def tell(cast: Cast, student: User) -> list[Review]:
    """Range days on 2, 9 and 16 June; the first two are answered."""
    drill = factories.make_drill(
        figure="turf-past-line",
        name="Brush ahead",
        stop_rule="stop if the lead wrist aches",
        per_week="3 times a week",
    )
    reviews = []
    for number, value in enumerate((120.0, 134.0, 150.0)):
        day, is_out = date(2026, 6, 2 + 7 * number), number < 2
        state = SubmissionState.ANSWERED if is_out else SubmissionState.USABLE
        sent = factories.make_submission(student, cast.cohort, range_day=day, state=state)
        clip = factories.make_clip(sent)
        for nudge in (-1.0, 0.0, 1.0):
            swing = factories.make_swing(clip, data=measured(value + nudge))
            readout = Readout.objects.get(swing=swing)
            for sign in (CONFIRMED, UNREVIEWED):
                SignFlag.objects.create(readout=readout, sign=sign, level="likely")
        _picture(clip.measurement.run, f"measured/{student.pk}-{number}")
        if not is_out:
            factories.make_review(sent)
            continue
        SignJudgement.objects.create(
            swing=swing,
            sign=CONFIRMED,
            verdict="agree",
            by=cast.coach,
            created_at=NOW - timedelta(days=7 - number),
        )
        reviews.append(_answer(cast, sent, number, drill))
    Practice.objects.create(
        review=reviews[-1],
        kind="done",
        on_day=date(2026, 6, 11),
        balls=40,
        created_at=NOW + timedelta(days=1),
    )
    return reviews


def _picture(run: AnalysisRun, key: str) -> None:
    AnalysisRun.objects.filter(pk=run.pk).update(result_key=key)
    for event in EVENTS:
        default_storage.save(f"{key}/still_1_{event}.jpg", ContentFile(jpeg()))


def _answer(cast: Cast, sent: Any, number: int, drill: Any) -> Review:
    review = factories.make_review(
        sent,
        state="published",
        published_at=NOW + timedelta(minutes=number),
        published_by=cast.coach,
        claimed_by=cast.coach,
        priority=("Turn, then swing", "Touch the turf past the ball")[number],
        cue="brush, don't lift",
        drill=drill if number else None,
    )
    FindingVersion.objects.create(
        review=review,
        number=1,
        by=cast.coach,
        miss="starts left, flies straight",
        mechanism="the hands overtake early",
        root_kind="idea",
        root_node="bel_lift",
        root=("the ball must be helped up", "the club has to lift the ball")[number],
        miss_nodes=["bf_pull"],
        created_at=NOW + timedelta(minutes=number),
    )
    return review
