"""All data of one person, taken along and deleted.

What an export must hold and what a deletion must take: Regulation (EU) 2016/679 (GDPR), article 15 (access), article 17
(erasure), article 20 (a structured, commonly used and machine-readable format).
"""

from __future__ import annotations

import json
import re
import zipfile
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.apps import apps
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db.models import Model

from coachhub.accounts.domain.notices import tell
from coachhub.accounts.models import Notice, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.feedback.models import Case, FindingVersion, Message, Review
from coachhub.progress.domain import takeaway
from coachhub.progress.domain.erasure import erase_person, erase_submission
from coachhub.progress.domain.own_data import UNREVIEWED
from coachhub.progress.domain.personal import (
    FILES,
    FOLDERS,
    NO_FILES,
    NOT_TAKEN,
    PARTS,
    RELATIONS,
)
from coachhub.progress.models import Takeaway
from coachhub.swings.models import AnalysisRun
from coachhub.videos.models import Clip, Submission
from tests import factories
from tests.coachhub.web.scene import SECRET_ANSWER, SECRET_NOTE, Scene, make_scene
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

FRAMEWORK = ("auth.", "contenttypes.", "sessions.", "admin.")


def ours() -> list[type[Model]]:
    return [model for model in apps.get_models() if not model._meta.label_lower.startswith(FRAMEWORK)]


def relations_to_people() -> set[str]:
    """Also many-to-many ones; the tables in between are deleted with either end."""
    found = set()
    for model in ours():
        for field in (*model._meta.fields, *model._meta.many_to_many):
            if field.related_model is User:
                found.add(f"{model._meta.label_lower}.{field.name}")
    return found


def reaches(model: type[Model], targets: set[type[Model]]) -> bool:
    return any(field.related_model in targets for field in model._meta.fields)


def test_every_relation_to_a_person_has_its_fate() -> None:
    assert relations_to_people() == set(RELATIONS), "tell personal.RELATIONS what becomes of it"


def test_every_storage_key_is_told() -> None:
    keys = {
        f"{model._meta.label_lower}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.fields
        if re.search(r"(^|_)(key|file)$", field.name) and not field.is_relation
    }
    assert keys == {*FILES, *FOLDERS, *NO_FILES}, "tell personal.FILES (or FOLDERS, NO_FILES) of it"


def test_nothing_is_taken_twice() -> None:
    ways = [(part.model, part.of) for part in PARTS]
    assert len(ways) == len(set(ways))


def test_no_section_of_the_export_hides_another() -> None:
    titles = [part.title for part in PARTS]
    assert len(titles) == len(set(titles))


def test_every_model_of_a_person_is_in_the_export_or_says_why_not() -> None:
    """From the people outward: whatever hangs on a person, a submission, a clip, a swing, a review or a talk."""
    roots: set[type[Model]] = {User, Submission}
    while True:
        more = {model for model in ours() if model not in roots and reaches(model, roots - {User})}
        if not more:
            break
        roots |= more
    about = {model._meta.label_lower for model in roots | {m for m in ours() if reaches(m, {User})}}
    told = {part.model for part in PARTS} | set(NOT_TAKEN)
    assert sorted(about - told) == [], "take it into personal.PARTS, or say in NOT_TAKEN why not"
    assert sorted(told - about - {"accounts.user", "swings.analysisrun"}) == []


def every_key(scene: Scene) -> dict[str, list[str]]:
    """A file behind every key of the scene; person's name to keys."""
    owned: dict[str, list[str]] = {}
    for field, ways in FILES.items():
        label, name = field.rsplit(".", 1)
        for row in apps.get_model(label)._default_manager.all():
            key = getattr(row, name) or f"made/{label}-{name}-{row.pk}"
            apps.get_model(label)._default_manager.filter(pk=row.pk).update(**{name: key})
            if not default_storage.exists(key):
                default_storage.save(key, ContentFile(b"film"))
            for way in ways:
                if (
                    apps.get_model(label)
                    ._default_manager.filter(pk=row.pk, **{way: scene.cast.student})
                    .exists()
                ):
                    owned.setdefault("student", []).append(key)
    for run in AnalysisRun.objects.all():
        AnalysisRun.objects.filter(pk=run.pk).update(result_key=f"measured/run-{run.pk}")
        default_storage.save(f"measured/run-{run.pk}/readout.json", ContentFile(b"{}"))
    default_storage.save("cases/none/film.mp4", ContentFile(b"covered"))
    return owned


def stored(folder: str = "") -> set[str]:
    folders, files = default_storage.listdir(folder)
    found = {f"{folder}{name}" for name in files}
    return found.union(*(stored(f"{folder}{name}/") for name in folders))


def whole_database() -> str:
    """Every value of every row of every table, as text."""
    return "\n".join(
        repr(row)
        for model in apps.get_models()
        for row in model._default_manager.order_by("pk").values_list()
    )


@pytest.fixture
def scene() -> Scene:
    return make_scene()


def test_a_student_is_erased_everywhere(scene: Scene, django_capture_on_commit_callbacks: Any) -> None:
    student = scene.cast.student
    Submission.objects.filter(student=student).update(note="only mine: a heron watched me")
    others = factories.make_submission(scene.cast.cohort_mate, scene.cast.cohort, note="theirs stays")
    untouched = factories.make_clip(others, original_key="originals/theirs")
    keys = every_key(scene)["student"]
    runs = set(AnalysisRun.objects.filter(measurements__clip__submission__student=student))
    assert len(keys) > 8 and runs
    words = (student.name, student.email, "a heron watched me")
    before = whole_database()
    assert all(word in before for word in words)
    with django_capture_on_commit_callbacks(execute=True):
        erase_person(student, by=student, now=NOW + timedelta(days=1))
    after, files = whole_database(), stored()
    assert [word for word in words if word in after] == []
    assert [key for key in keys if key in files] == []
    assert [run for run in runs if any(f"run-{run.pk}/" in name for name in files)] == []
    assert not Case.objects.exists() and "cases/none/film.mp4" not in files
    # Somebody else's things are still there, rows and files.
    assert "theirs stays" in after and untouched.original_key in files
    assert SECRET_NOTE in after, "the minor's own words are the minor's"
    # What is left is a line without a person.
    line = Event.objects.get(verb="person.erased")
    assert (line.actor, line.detail) == (None, {"asked_by": "self"})
    assert not User.objects.filter(pk=student.pk).exists()


def test_files_made_to_be_taken_along_go_with_the_person(
    scene: Scene, django_capture_on_commit_callbacks: Any
) -> None:
    """Also those that a guardian ordered of the child, whichever of the two goes."""
    mine, _ = packed(scene.cast.student, scene.cast.student)
    childs, _ = packed(scene.cast.minor, scene.cast.guardian)
    guardians, _ = packed(scene.cast.guardian, scene.cast.guardian)
    with django_capture_on_commit_callbacks(execute=True):
        erase_person(scene.cast.student, by=scene.cast.student, now=NOW)
        erase_person(scene.cast.guardian, by=scene.cast.guardian, now=NOW)
    assert not any(default_storage.exists(row.file_key) for row in (mine, childs, guardians))
    assert not Takeaway.objects.exists()


def test_what_a_coach_wrote_for_students_stays_without_the_coach(
    scene: Scene, django_capture_on_commit_callbacks: Any
) -> None:
    coach = scene.cast.coach
    name, email = coach.name, coach.email
    told = (Review.objects.get(pk=scene.published.pk).priority, Message.objects.filter(author=coach).count())
    assert told[0] == SECRET_ANSWER and told[1] > 1
    every_key(scene)
    library = scene.reference.clip.original_key
    with django_capture_on_commit_callbacks(execute=True):
        erase_person(coach, by=coach, now=NOW + timedelta(days=1))
    after = whole_database()
    assert name not in after and email not in after
    review = Review.objects.get(pk=scene.published.pk)
    assert (review.priority, review.published_by.name) == (told[0], "A coach who has left")  # type: ignore[union-attr]
    assert FindingVersion.objects.get(review=review).by.name == "A coach who has left"
    left = User.objects.get(pk=coach.pk)
    assert Message.objects.filter(author=left).count() == told[1]
    assert not left.is_active and not left.has_usable_password() and left.email.endswith("@left.invalid")
    assert not left.memberships.exists()
    assert library not in stored(), "the coach's own films go"
    assert Clip.objects.filter(submission__student=scene.cast.student).exists()


def test_a_camp_is_not_left_without_its_organiser(scene: Scene) -> None:
    with pytest.raises(RuleBroken, match="only organiser"):
        erase_person(scene.cast.organiser, by=scene.cast.organiser, now=NOW)
    scene.cast.camp.state = "closed"
    scene.cast.camp.save()
    erase_person(scene.cast.organiser, by=scene.cast.organiser, now=NOW)
    # The invitation that the organiser made still leads into the camp.
    assert scene.invitation.__class__.objects.filter(pk=scene.invitation.pk).exists()


def test_who_may_erase_whom(scene: Scene) -> None:
    cast = scene.cast
    for by in (cast.coach, cast.cohort_mate, cast.organiser_elsewhere, cast.guardian):
        with pytest.raises(RuleBroken, match="Only the person"):
            erase_person(cast.student, by=by, now=NOW)
    tell(cast.minor, "answer", about=scene.minor_answer.public_id, path="/my/", now=NOW)
    assert Notice.objects.filter(person=cast.guardian).exists()
    erase_person(cast.minor, by=cast.guardian, now=NOW)
    told = Notice.objects.filter(about=str(scene.minor_answer.public_id))
    assert not told.exists(), "nobody is led to what is gone"
    erase_person(cast.cohort_mate, by=cast.organiser, now=NOW)
    assert not User.objects.filter(pk__in=(cast.minor.pk, cast.cohort_mate.pk)).exists()


def test_a_guardian_who_goes_takes_the_consent_along(scene: Scene) -> None:
    from coachhub.accounts.domain.consent import standing

    assert standing(scene.cast.minor)
    erase_person(scene.cast.guardian, by=scene.cast.guardian, now=NOW)
    assert standing(scene.cast.minor) == frozenset()
    assert Submission.objects.filter(student=scene.cast.minor).exists()


def test_one_submission_alone(scene: Scene, django_capture_on_commit_callbacks: Any) -> None:
    every_key(scene)
    clip = Clip.objects.get(pk=scene.clip.pk)
    kept = Clip.objects.get(submission=scene.answered)
    with pytest.raises(RuleBroken, match="Only who sent it"):
        erase_submission(scene.submission, by=scene.cast.coach, now=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        erase_submission(scene.submission, by=scene.cast.student, now=NOW)
    files = stored()
    gone = [clip.original_key, clip.rendition_key, clip.poster_key, clip.index_key]
    assert [key for key in gone if key in files] == []
    assert kept.original_key in files
    assert not Submission.objects.filter(pk=scene.submission.pk).exists()
    assert not Case.objects.filter(swing=scene.swing).exists()
    assert Submission.objects.filter(pk=scene.answered.pk).exists()


def packed(person: User, by: User) -> tuple[Takeaway, zipfile.ZipFile]:
    row = takeaway.order(person, by=by, now=NOW)
    assert takeaway.order(person, by=by, now=NOW) == row, "one under way is that one"
    assert takeaway.pack(row.pk, clock=lambda: NOW)
    assert not takeaway.pack(row.pk, clock=lambda: NOW), "a doubled message makes it once"
    row.refresh_from_db()
    with default_storage.open(row.file_key) as file:
        return row, zipfile.ZipFile(BytesIO(file.read()))


def test_the_takeaway_holds_everything_and_nobody_elses(scene: Scene) -> None:
    student, mate = scene.cast.student, scene.cast.cohort_mate
    factories.make_submission(mate, scene.cast.cohort, note="the neighbour's secret")
    every_key(scene)
    row, archive = packed(student, student)
    assert archive.testzip() is None
    told = json.loads(archive.read("data.json"))
    data = told["data"]
    assert data["Account"][0]["email"] == student.email
    assert {row["note"] for row in data["What you sent"]} >= {SECRET_NOTE}
    assert data["Answers"][-1]["priority"] == SECRET_ANSWER
    # Both sides of the own talk, coaches by name as on the site.
    assert {m["author"] for m in data["Talk with the coaches"]} == {student.name, scene.cast.coach.name}
    # The machine's word is marked as such.
    signs = [sign for each in data["Measured numbers"] for sign in each["signs"]]
    assert signs and {sign["review"] for sign in signs} == {UNREVIEWED}
    text = archive.read("data.json").decode() + archive.read("index.html").decode()
    for word in ("the neighbour's secret", mate.email, mate.name, scene.cast.minor.name, student.password):
        assert word not in text
    # Every file that the page names is in it, and nothing else.
    names = {name for name in archive.namelist() if name.startswith("media/")}
    assert names == {file["file"] for file in told["files"]} and len(names) >= 4
    page = archive.read("index.html").decode()
    assert all(f'href="{name}"' in page for name in names)
    assert "<script" not in page and "unreviewed" in page
    # Films play and pictures are seen in the page itself.
    films = [file for file in told["files"] if file["kind"] == "film"]
    assert films and all(f'<video controls preload="none" src="{file["file"]}"' in page for file in films)
    assert 'src="http' not in page
    assert row.expires_at == NOW + timedelta(days=7)
    told_once = Notice.objects.filter(kind="ready").values_list("person", "about", "path")
    assert list(told_once) == [(student.pk, str(row.public_id), f"/data/{student.public_id}/")]


def test_a_takeaway_goes_after_its_days(scene: Scene, django_capture_on_commit_callbacks: Any) -> None:
    row, _ = packed(scene.cast.minor, scene.cast.guardian)
    assert set(Takeaway.objects.visible_to(scene.cast.guardian)) == {row}
    assert not Takeaway.objects.visible_to(scene.cast.minor).exists()
    with pytest.raises(RuleBroken, match="Only the person"):
        takeaway.order(scene.cast.student, by=scene.cast.coach, now=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        assert takeaway.drop_expired(now=NOW + timedelta(days=6)) == 0
        assert takeaway.drop_expired(now=NOW + timedelta(days=7)) == 1
    assert not default_storage.exists(row.file_key) and not Takeaway.objects.exists()
