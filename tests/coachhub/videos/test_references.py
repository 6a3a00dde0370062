"""A coach's library: who sees what, how its film comes in, and that deleting it deletes."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from coachhub.camps.enums import Role
from coachhub.common.domain.errors import RuleBroken
from coachhub.swings.domain.references import delete_reference
from coachhub.swings.domain.runs import parameters_for
from coachhub.swings.models import AnalysisRun, Swing
from coachhub.videos.domain.clips import mark_playable, settle_clip
from coachhub.videos.domain.pieces import part_path
from coachhub.videos.domain.references import About, add_reference, edit_reference, share_reference
from coachhub.videos.domain.uploads import Announced, begin_upload, finish_upload
from coachhub.videos.models import Clip, Reference, Upload
from tests import factories
from tests.cast import NAMES, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

ABOUT = About("Seven iron, calm", "swing", "dtl", "left", "myself", club_class="iron")


def test_private_until_shared_and_then_for_the_camps_coaches_only() -> None:
    cast = make_cast()
    made = add_reference(cast.camp, ABOUT, by=cast.coach, now=NOW)
    assert seers(cast, made) == {"coach"}
    assert share_reference(made, shared=True, by=cast.coach, now=NOW)
    assert seers(cast, made) == {"coach", "coach_elsewhere"}
    assert not share_reference(made, shared=True, by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken):
        share_reference(made, shared=False, by=cast.coach_elsewhere, now=NOW)
    made.shown_to.add(cast.student)
    assert seers(cast, made) == {"coach", "coach_elsewhere", "student"}
    assert not Reference.objects.usable_by(cast.student).exists()


def seers(cast: Any, reference: Reference) -> set[str]:
    people = {name: cast.person(name) for name in NAMES}
    return {
        name
        for name, user in people.items()
        if Reference.objects.visible_to(user).filter(pk=reference.pk).exists()
    }


@pytest.mark.parametrize(
    "change", [{"title": " "}, {"rights": ""}, {"club_class": ""}], ids=["title", "rights", "club"]
)
def test_what_must_be_said_of_a_whole_swing(change: dict[str, str]) -> None:
    cast = make_cast()
    with pytest.raises(RuleBroken):
        add_reference(cast.camp, About(**{**vars_of(ABOUT), **change}), by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken):
        add_reference(cast.camp, ABOUT, by=cast.student, now=NOW)


def vars_of(about: About) -> dict[str, Any]:
    return {name: getattr(about, name) for name in About.__dataclass_fields__}


def send_film(reference: Reference, by: Any, content: bytes = b"film") -> Upload:
    upload = begin_upload(reference, Announced(len(content), reference.view, "me.mp4"), by=by, now=NOW)
    path: Path = part_path(upload)
    path.write_bytes(content)
    Upload.objects.filter(pk=upload.pk).update(offset=len(content))
    upload.refresh_from_db()
    return finish_upload(upload, now=NOW)


def test_its_film_comes_by_the_upload_and_is_measured_as_its_owner_said() -> None:
    cast = make_cast()
    made = add_reference(cast.camp, ABOUT, by=cast.coach, now=NOW)
    done = send_film(made, cast.coach)
    clip = Clip.objects.get(reference=made)
    assert (done.clip, done.refused_text) == (clip, "")
    assert (clip.view, clip.sha256) == ("dtl", hashlib.sha256(b"film").hexdigest())
    assert parameters_for(clip) == {"declared_view": "dtl", "declared_hand": "left", "club_class": "iron"}
    with pytest.raises(RuleBroken, match="has its film already"):
        send_film(made, cast.coach, b"another")
    with pytest.raises(RuleBroken):
        begin_upload(made, Announced(4, "dtl"), by=cast.coach_elsewhere, now=NOW)
    # Measured under these words: they stay.
    edit_reference(
        made, About(**{**vars_of(ABOUT), "view": "face_on", "title": "New"}), by=cast.coach, now=NOW
    )
    made.refresh_from_db()
    assert (made.view, made.title) == ("dtl", "New")


@pytest.mark.parametrize("kind,state", [("swing", "refused"), ("hands", "usable"), ("set_up", "usable")])
def test_a_demonstration_needs_no_swing(kind: str, state: str) -> None:
    cast = make_cast()
    clip = film_of(cast, kind=kind, club_class="" if kind != "swing" else "iron")
    assert mark_playable(clip, FACTS, now=NOW)
    settle_clip(clip, usable=False, code="no_swing", text="No swing.", now=NOW)
    clip.refresh_from_db()
    assert clip.state == state


FACTS: Any = {
    "duration_s": 2.0,
    "fps": 60.0,
    "frame_count": 120,
    "width": 720,
    "height": 1280,
    "codec": "h264",
    "has_audio": False,
}


def film_of(cast: Any, **fields: Any) -> Clip:
    reference = factories.make_reference(cast.coach, cast.camp, **fields)
    return factories.make_clip(None, reference=reference, state="received")


def test_a_refused_film_gives_way_to_the_next() -> None:
    cast = make_cast()
    clip = film_of(cast)
    settle_clip(clip, usable=False, code="no_golfer", text="Nobody there.", now=NOW)
    assert clip.reference is not None
    send_film(clip.reference, cast.coach, b"better")
    assert Clip.objects.get(reference=clip.reference).sha256 == hashlib.sha256(b"better").hexdigest()


def test_deleting_takes_the_film_and_its_numbers_along(django_capture_on_commit_callbacks: Any) -> None:
    cast = make_cast()
    clip = film_of(cast)
    swing = factories.make_swing(clip)
    run = AnalysisRun.objects.get(readouts__swing=swing)
    clip.rendition_key = default_storage.save("renditions/me.mp4", ContentFile(b"film"))
    clip.save()
    default_storage.save("measured/aa/bb/readout.json", ContentFile(b"{}"))
    AnalysisRun.objects.filter(pk=run.pk).update(result_key="measured/aa/bb")
    assert clip.reference is not None
    with pytest.raises(RuleBroken):
        delete_reference(clip.reference, by=cast.coach_elsewhere, now=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        delete_reference(clip.reference, by=cast.coach, now=NOW)
    assert not Reference.objects.exists() and not Clip.objects.exists() and not Swing.objects.exists()
    assert not AnalysisRun.objects.exists()
    assert not default_storage.exists(clip.rendition_key)
    assert not default_storage.exists("measured/aa/bb/readout.json")


def test_a_coach_of_two_camps_shares_in_one() -> None:
    cast = make_cast()
    other = factories.make_user("Far Coach")
    factories.join(other, factories.make_cohort(cast.other_camp), Role.COACH)
    made = factories.make_reference(cast.coach, cast.camp)
    assert not Reference.objects.usable_by(other).filter(pk=made.pk).exists()
