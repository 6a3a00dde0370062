"""A consent that ended counts on every page: staff read nothing of what was sent, measured, answered or practised.

The words of the talk stay readable (both sides wrote them), and so does that somebody takes part at all.
"""

from __future__ import annotations

from io import BytesIO

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from coachhub.accounts.domain import consent
from coachhub.accounts.models import Intake, User
from coachhub.feedback.models import FindingVersion, ParkedPriority, Practice, Review
from coachhub.videos.models import Submission
from tests.coachhub.web.routes import ROUTES
from tests.coachhub.web.scene import Scene, make_scene
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

# Each stands in one kind of row, and nowhere else.
MARKS = {
    "note": "quartz-note",
    "priority": "quartz-priority",
    "keep": "quartz-keep",
    "mechanism": "quartz-mechanism",
    "root": "quartz-root",
    "goals": "quartz-goals",
    "pain": "quartz-pain",
    "practice": "quartz-practice",
    "parked": "quartz-parked",
}


def mark_everything(scene: Scene, student: User) -> None:
    Submission.objects.filter(student=student).update(note=MARKS["note"])
    Review.objects.filter(submission__student=student).update(priority=MARKS["priority"], keep=MARKS["keep"])
    FindingVersion.objects.filter(review__submission__student=student).update(
        mechanism=MARKS["mechanism"], root=MARKS["root"]
    )
    Intake.objects.filter(user=student).update(goals=MARKS["goals"], pain_words=MARKS["pain"])
    ParkedPriority.objects.filter(student=student).update(words=MARKS["parked"])
    Review.objects.filter(pk=scene.published.pk).update(drill=scene.drill)
    Practice.objects.create(
        review=scene.published, kind="hurts", on_day=NOW.date(), note=MARKS["practice"], created_at=NOW
    )


def words_of(client: Client, scene: Scene, name: str) -> str:
    row = ROUTES[name]
    answer = client.get(
        reverse(name, kwargs=row.kwargs(scene), query=row.query(scene)), headers=row.headers(scene)
    )
    if answer.status_code != 200:
        return ""
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    if answer.headers.get("Content-Type") == "application/pdf":
        return " ".join(page.extract_text() for page in PdfReader(BytesIO(body)).pages)
    return body.decode(errors="replace")


def readable(scene: Scene, who: str) -> dict[str, set[str]]:
    """Route to the marks on its page."""
    person = scene.cast.person(who)
    assert isinstance(person, User)
    client, found = Client(), {}
    client.force_login(person)
    for name, row in ROUTES.items():
        if row.get is not None and who in row.get and row.get[who] == 200:
            with transaction.atomic():
                row.prepare(scene)
                text = words_of(client, scene, name)
                transaction.set_rollback(True)
            if marks := {key for key, word in MARKS.items() if word in text}:
                found[name] = marks
    return found


# Where these words are read while the consent stands; were one missing, this would look at nothing.
READ_ON = {
    "coach": {"coach:desk", "coach:student", "coach:course", "reports:student", "progress:student"},
    "organiser": {"coach:student", "coach:course", "reports:student", "progress:student"},
}


@pytest.mark.parametrize("who", ["coach", "organiser"])
def test_staff_read_nothing_more(who: str) -> None:
    scene = make_scene()
    student = scene.cast.student
    mark_everything(scene, student)
    before = readable(scene, who)
    assert set(before) >= READ_ON[who]
    seen = set().union(*before.values())
    assert seen >= {"note", "priority", "mechanism", "root", "goals", "pain", "practice", "parked"}
    consent.withdraw(student, ["feedback"], by=student, now=timezone.now())
    assert readable(scene, who) == {}


def test_nobody_is_named_beside_a_miss_or_an_idea_any_more() -> None:
    scene = make_scene()
    student, client = scene.cast.student, Client()
    client.force_login(scene.cast.coach)
    pages = ("coach:camp-findings", "coach:lesson")
    assert all(student.name in words_of(client, scene, name) for name in pages)
    consent.withdraw(student, ["feedback"], by=student, now=timezone.now())
    assert not any(student.name in words_of(client, scene, name) for name in pages)
