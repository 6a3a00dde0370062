"""A case from a swing to those who may see it, and out of everywhere again."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from analysis.adapters.truth import read_truth, truth_swing
from analysis.adapters.voice import RATE_HZ, encode_voice
from analysis.types import JOINTS
from coachhub.accounts.domain import consent
from coachhub.accounts.domain.growing_up import grow_up_all
from coachhub.accounts.domain.guardians import end
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import Guardianship, Minor, Notice
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.feedback.domain import case_covering
from coachhub.feedback.domain.case_covering import make_case, requeue_lost_cases
from coachhub.feedback.domain.cases import (
    approve,
    begin_case,
    cover_again,
    look_at,
    post_case,
    show_name,
    take_down,
)
from coachhub.feedback.models import Case, CasePost, FindingVersion, Message, TalkThrough
from coachhub.swings.models import AnalysisRun, SignJudgement
from coachhub.web.media.links import media_link
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
CLIPS = Path(__file__).parents[3] / "fixtures" / "clips"


@pytest.fixture
def cast() -> Cast:
    made = make_cast()
    factories.agree(made.student, "cohort")
    return made


def begun(cast: Cast, student: Any = None, **fields: Any) -> Case:
    student = student or cast.student
    submission = factories.make_submission(student, cast.cohort)
    clip = factories.make_clip(submission, rendition_key=f"renditions/{submission.pk}.mp4")
    default_storage.save(clip.rendition_key, ContentFile(b"film"))
    swing = factories.make_swing(clip)
    said = {"title": "The turf tells", "words": "Look where the club meets the ground."}
    review = factories.make_review(submission)
    return begin_case(review, swing=swing, by=cast.coach, now=NOW, **said | fields)


def covered(case: Case, monkeypatch: pytest.MonkeyPatch, sheets: int = 2) -> Case:
    """The worker's way, with a child that writes what the covering writes (its own tests hold it to the truth)."""

    def child(row: Any, function: str, arguments: dict[str, Any], **_: Any) -> dict[str, Any]:
        out = Path(arguments["out_dir"])
        for name in ("film.mp4", "poster.jpg", *(f"sheet-{n:02d}.jpg" for n in range(1, sheets + 1))):
            (out / name).write_bytes(name.encode())
        return {"frames": 24 * sheets, "sheets": [[24 * n, 24 * n + 23] for n in range(sheets)], "whole": 0}

    monkeypatch.setattr(case_covering, "work_in_child", child)
    assert make_case(case.pk, clock=lambda: NOW)
    case.refresh_from_db()
    assert case.job_state == "done", case.error_text
    return case


def posted(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Case:
    case = covered(begun(cast), monkeypatch)
    look_at(case, [1, 2], by=cast.coach, now=NOW)
    approve(case, by=cast.coach, now=NOW)
    return post_case(case, [cast.student, cast.cohort_mate, cast.minor], by=cast.coach, now=NOW)


def test_without_the_consent_there_is_no_case(cast: Cast) -> None:
    with pytest.raises(RuleBroken, match="agreement"):
        begun(cast, student=cast.cohort_mate)
    # Of a minor it is the guardian's word that counts; for analysis and feedback it stands, for this it doesn't.
    with pytest.raises(RuleBroken, match="guardian"):
        begun(cast, student=cast.minor)
    assert not Case.objects.exists()
    consent.give(cast.minor, [Purpose.COHORT], by=cast.guardian, now=NOW)
    assert begun(cast, student=cast.minor).student == cast.minor


def test_only_the_cohorts_coach_makes_one_and_never_with_the_name(cast: Cast) -> None:
    case = begun(cast)
    review = case.swing.clip.submission.review  # type: ignore[union-attr]
    for person in (cast.organiser, cast.coach_elsewhere, cast.student):
        with pytest.raises(RuleBroken, match="coach"):
            begin_case(review, swing=case.swing, title="A", words="b", by=person, now=NOW)
    with pytest.raises(RuleBroken, match="names the student"):
        begin_case(review, swing=case.swing, title="Sam's turf", words="b", by=cast.coach, now=NOW)


def test_nothing_is_posted_before_every_frame_was_looked_at(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = begun(cast)
    with pytest.raises(RuleBroken, match="not ready"):
        approve(case, by=cast.coach, now=NOW)
    case = covered(case, monkeypatch)
    look_at(case, [1], by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken, match="Left: 2"):
        approve(case, by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken, match="Look the film through"):
        post_case(case, [cast.cohort_mate], by=cast.coach, now=NOW)
    # The database holds it too, whoever writes.
    with pytest.raises(IntegrityError), transaction.atomic():
        Case.objects.filter(pk=case.pk).update(state="posted")
    look_at(case, [2], by=cast.coach, now=NOW)
    assert approve(case, by=cast.coach, now=NOW).approved_by == cast.coach
    # Covered anew it is to be looked through anew.
    again = cover_again(case, margin=1.5, by=cast.coach, now=NOW)
    assert (again.state, again.looked, again.folder_key) == ("draft", [], "")


def test_who_sees_it_when(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    case = covered(begun(cast), monkeypatch)
    names = (
        "student",
        "cohort_mate",
        "minor",
        "guardian",
        "coach",
        "coach_elsewhere",
        "organiser",
        "outsider",
    )

    def seen() -> set[str]:
        return {name for name in names if Case.objects.visible_to(cast.person(name)).exists()}

    assert seen() == {"coach", "organiser"}
    look_at(case, [1, 2], by=cast.coach, now=NOW)
    approve(case, by=cast.coach, now=NOW)
    assert seen() == {"coach", "organiser", "student"}
    post_case(case, [cast.cohort_mate, cast.minor], by=cast.coach, now=NOW)
    assert seen() == {"coach", "organiser", "student", "cohort_mate", "minor", "guardian"}
    told = {post.student: post.message.text for post in case.posts.all()}
    assert "taken down at any time" in told[cast.student]
    assert cast.student.name not in "".join(told.values())


def test_an_address_from_before_leads_nowhere(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    """Who has the film open in another tab gets nothing more of it."""
    case = posted(cast, monkeypatch)
    client = Client()
    client.force_login(cast.cohort_mate)
    film, page = media_link("case.film", case, cast.cohort_mate), reverse("cases:case", args=[case.public_id])
    thread = reverse(
        "student:thread", args=[case.posts.get(student=cast.cohort_mate).message.thread.public_id]
    )
    assert client.get(film).status_code == client.get(page).status_code == 200
    assert case.title in client.get(thread).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        consent.withdraw(cast.student, [Purpose.COHORT], by=cast.student, now=NOW + timedelta(days=1))
    assert client.get(film).status_code == client.get(page).status_code == 404
    assert case.title not in client.get(thread).content.decode()
    assert case.title not in client.get(reverse("cases:list")).content.decode()


@pytest.mark.parametrize("who", ["guardian", "minor", "eighteen", "guardian_gone"])
def test_a_minors_case_ends_with_what_it_stands_on(
    cast: Cast, who: str, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    consent.give(cast.minor, [Purpose.COHORT], by=cast.guardian, now=NOW)
    case = covered(begun(cast, student=cast.minor), monkeypatch)
    look_at(case, [1, 2], by=cast.coach, now=NOW)
    approve(case, by=cast.coach, now=NOW)
    case = post_case(case, [cast.student], by=cast.coach, now=NOW)
    later = NOW + timedelta(days=1)
    with django_capture_on_commit_callbacks(execute=True):
        if who == "eighteen":
            Minor.objects.filter(person=cast.minor).update(birth_year=NOW.year - 19, birth_month=1)
            assert grow_up_all(now=later) == 1
        elif who == "guardian_gone":
            end(Guardianship.objects.get(child=cast.minor), by=cast.guardian, now=later)
        else:
            consent.withdraw(cast.minor, [Purpose.COHORT], by=cast.person(who), now=later)  # type: ignore[arg-type]
    assert not Case.objects.exists() and not CasePost.objects.exists()
    assert not default_storage.exists(f"{case.folder_key}/film.mp4")


@pytest.mark.parametrize("who", ["student", "coach", "organiser", "consent"])
def test_taken_down_it_is_gone_everywhere(
    cast: Cast, who: str, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    case = posted(cast, monkeypatch)
    folder, before = case.folder_key, Message.objects.count()
    assert default_storage.exists(f"{folder}/film.mp4")
    # Three people, and who reads along with one of them.
    assert Notice.objects.filter(kind="lesson").count() == 4
    with django_capture_on_commit_callbacks(execute=True):
        if who == "consent":
            consent.withdraw(cast.student, [Purpose.COHORT], by=cast.student, now=NOW + timedelta(days=1))
        else:
            take_down(case, by=cast.person(who), now=NOW)  # type: ignore[arg-type]
    assert not Case.objects.exists()
    assert Message.objects.count() == before - 3
    assert not Notice.objects.filter(kind="lesson").exists()
    assert not default_storage.exists(f"{folder}/film.mp4")
    assert not default_storage.exists(f"{folder}/sheet-01.jpg")
    line = Event.objects.filter(verb="case.taken_down").get()
    assert cast.student.name not in json.dumps(line.detail)


def test_a_guardian_takes_down_what_shows_the_child(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    consent.give(cast.minor, [Purpose.COHORT], by=cast.guardian, now=NOW)
    case = covered(begun(cast, student=cast.minor), monkeypatch)
    with pytest.raises(RuleBroken, match="Only whom it shows"):
        take_down(case, by=cast.cohort_mate, now=NOW)
    # A minor is never named, whoever asks.
    with pytest.raises(RuleBroken, match="grown-up"):
        show_name(case, True, by=cast.minor, now=NOW)
    with pytest.raises(RuleBroken, match="grown-up"):
        show_name(case, True, by=cast.guardian, now=NOW)
    take_down(case, by=cast.guardian, now=NOW)
    assert not Case.objects.exists()


def test_the_name_is_a_choice_of_its_own(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    case = posted(cast, monkeypatch)
    assert not case.shows_name
    with pytest.raises(RuleBroken, match="grown-up"):
        show_name(case, True, by=cast.coach, now=NOW)
    assert show_name(case, True, by=cast.student, now=NOW).shows_name
    assert not show_name(case, False, by=cast.student, now=NOW).shows_name


def test_a_worker_that_died_and_one_that_comes_too_late(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    case = begun(cast)
    Case.objects.filter(pk=case.pk).update(job_state="running", lease_until=NOW, lease_token=case.public_id)
    sent: list[int] = []
    monkeypatch.setattr(case_covering, "send", sent.append)
    assert requeue_lost_cases(NOW + timedelta(seconds=1)) == 1
    assert sent == [case.pk]

    def child(row: Any, function: str, arguments: dict[str, Any], **_: Any) -> dict[str, Any]:
        (Path(arguments["out_dir"]) / "film.mp4").write_bytes(b"late")
        take_down(case, by=cast.coach, now=NOW)
        return {"frames": 1, "sheets": [[0, 0]], "whole": 0}

    monkeypatch.setattr(case_covering, "work_in_child", child)
    kept = _stored("cases")
    assert make_case(case.pk, clock=lambda: NOW)
    assert not Case.objects.exists()
    assert _stored("cases") == kept, "what was taken down while it was made leaves no file"


def _stored(folder: str) -> set[str]:
    if not default_storage.exists(folder):
        return set()
    folders, files = default_storage.listdir(folder)
    return {f"{folder}/{name}" for name in files}.union(*(_stored(f"{folder}/{name}") for name in folders))


def test_a_talk_over_covered_pictures(cast: Cast, tmp_path: Path) -> None:
    """By the real children: a third of a second of a rendered swing, talked over for one second."""
    frames, truth = range(70, 90), read_truth(CLIPS / "fo_early.json.gz")
    source = tmp_path / "clip.mp4"
    with av.open(str(CLIPS / "fo_early.mp4")) as film, av.open(str(source), "w") as short:
        stream = short.add_stream("libx264", rate=60, options={"bf": "0"})
        stream.width, stream.height, stream.pix_fmt = 720, 1280, "yuv420p"
        for number, picture in enumerate(film.decode(video=0)):
            if number in frames:
                short.mux(stream.encode(av.VideoFrame.from_ndarray(picture.to_ndarray(format="rgb24"))))
        short.mux(stream.encode(None))
    pose = truth_swing(truth)[0].pose
    places = pose.xy[list(frames)] / (pose.width, pose.height)
    joints = {name: [[*map(float, xy), 1.0] for xy in places[:, k]] for k, name in enumerate(JOINTS)}
    lines = {"swings": [{"t_us": [round(n * 1e6 / 60) for n in range(20)], "joints": joints}]}
    default_storage.save("measured/talked/tracks.json", ContentFile(json.dumps(lines).encode()))
    encode_voice(np.zeros(RATE_HZ, dtype=np.float32), tmp_path / "talk.m4a")
    default_storage.save("talks/said.m4a", ContentFile((tmp_path / "talk.m4a").read_bytes()))

    submission = factories.make_submission(cast.student, cast.cohort)
    clip = factories.make_clip(submission, rendition_key="renditions/talked.mp4", duration_s=20 / 60)
    default_storage.save(clip.rendition_key, ContentFile(source.read_bytes()))
    swing = factories.make_swing(clip)
    AnalysisRun.objects.update(result_key="measured/talked")
    ident, readout = str(swing.public_id), swing.readouts.get()
    place = {"ms": 0, "kind": "place", "swing": ident, "us": 0, "rate": 0.3}
    review = factories.make_review(submission)
    talk = TalkThrough.objects.create(
        review=review,
        by=cast.coach,
        script={},
        timeline={"duration_ms": 1000, "events": [place]},
        pins={"swings": {ident: str(readout.public_id)}},
        audio_key="talks/said.m4a",
        job_state="done",
        queued_at=NOW,
        created_at=NOW,
    )
    case = begin_case(review, talk=talk, title="Hands", words="Listen.", by=cast.coach, now=NOW)
    assert make_case(case.pk, clock=lambda: NOW)
    case.refresh_from_db()
    assert case.job_state == "done", case.error_text
    with default_storage.open(f"{case.folder_key}/film.mp4") as stored, av.open(stored) as film:
        # The coach's voice alone: the clip has none, and a covered clip never does.
        assert sorted(each.type for each in film.streams) == ["audio", "video"]
        shown = [picture.to_ndarray(format="gray") for picture in film.decode(video=0)]
    assert len(shown) == 30
    nose = JOINTS.index("nose")
    for number, picture in enumerate(shown):
        row = min(19, int(number * 0.3 * 60 / 30))
        x, y = (round(float(v)) for v in pose.xy[frames[row], nose])
        head = picture[y - 18 : y + 18, x - 18 : x + 18].astype(float)
        assert head.std() < 4, f"picture {number}"
        assert picture.std() > 8
    look_at(case, range(1, len(case.facts["sheets"]) + 1), by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken, match="Listen to the talk"):
        approve(case, by=cast.coach, now=NOW)
    assert approve(case, heard=True, by=cast.coach, now=NOW).state == "approved"


def test_it_can_go_to_those_who_have_the_same(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """The grounds are what the latest answers found of both, the one it shows and those it goes to."""
    from coachhub.web.cases.making import _targets

    for student, idea in (
        (cast.student, "bel_lift"),
        (cast.cohort_mate, "bel_lift"),
        (cast.minor, "bel_turn"),
    ):
        submission = factories.make_submission(student, cast.cohort, state="answered")
        answer = factories.make_review(
            submission, state="published", published_at=NOW, published_by=cast.coach, claimed_by=cast.coach
        )
        FindingVersion.objects.create(
            review=answer,
            number=1,
            by=cast.coach,
            root_kind="idea",
            root_node=idea,
            miss_nodes=["bf_pull"] if student != cast.cohort_mate else ["bf_slice"],
            created_at=NOW,
        )
        if student != cast.cohort_mate:
            swing = factories.make_swing(factories.make_clip(submission), signs={"sway": "likely"})
            SignJudgement.objects.create(
                swing=swing, sign="sway", verdict="agree", by=cast.coach, created_at=NOW
            )
    case = covered(begun(cast), monkeypatch)
    found = {key: {person.name for person in people} for key, _, people in _targets(case, cast.coach)}
    assert found == {
        f"cohort:{cast.cohort.public_id}": {cast.cohort_mate.name, cast.minor.name},
        "idea:bel_lift": {cast.cohort_mate.name},
        "miss:bf_pull": {cast.minor.name},
        "sign:sway": {cast.minor.name},
    }
