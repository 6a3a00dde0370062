"""Results that earlier versions stored: still read, corrected, and measured again without losing what people said."""

from __future__ import annotations

import json
import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.test import Client

from analysis.version import ANALYSIS_VERSION
from coachhub.feedback.models import Review
from coachhub.swings.domain import measuring
from coachhub.swings.domain.corrections import correct_event
from coachhub.swings.domain.judgements import judge_sign
from coachhub.swings.domain.results import store_result
from coachhub.swings.domain.runs import parameters_for
from coachhub.swings.models import AnalysisRun, Readout, SignFlag, Swing
from coachhub.videos.enums import ClipState, SubmissionState
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
DATA = Path(__file__).parent / "data"
VERSIONS = ("1.0.0", "1.1.0")
LATER, LATEST = NOW + timedelta(hours=1), NOW + timedelta(hours=2)


def result_of(version: str) -> Path:
    return DATA / f"result_{version.replace('.', '_')}"


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def stored(cast: Cast, version: str) -> Swing:
    """The one swing of a clip that ``version`` measured."""
    submission = factories.make_submission(
        cast.student, cast.cohort, state=SubmissionState.SENT, settled_at=None
    )
    clip = factories.make_clip(submission, state=ClipState.PLAYABLE)
    default_storage.save(clip.original_key, ContentFile(b"a clip"))
    factories.make_run(clip, job_state="waiting", code_version=version, parameters=parameters_for(clip))
    return Swing.objects.get(
        clip=hand_in(AnalysisRun.objects.get(), result_of(version)).measurements.get().clip
    )


def hand_in(run: AnalysisRun, folder: Path, now: Any = NOW) -> AnalysisRun:
    held = measuring.jobs.claim(AnalysisRun.objects.all(), run.pk, now=now, lease=timedelta(minutes=1))
    assert held is not None
    store_result(held, folder, now=now)
    run.refresh_from_db()
    return run


def current(swing: Swing) -> Readout:
    return swing.readouts.get(is_current=True)


def client_of(user: Any) -> Client:
    client = Client()
    client.force_login(user)
    return client


def player_events(page: str, data_id: str) -> dict[str, float]:
    """Event times in seconds that the page's player is given."""
    start = page.index(">", page.index(f'id="{data_id}"')) + 1
    player = json.loads(page[start : page.index("</script>", start)])
    return {event["name"]: event["t_us"] / 1e6 for event in player["swings"][0]["events"]}


@pytest.mark.parametrize("version", VERSIONS)
def test_the_desk_still_reads_it(cast: Cast, version: str) -> None:
    swing = stored(cast, version)
    readout = current(swing)
    assert readout.data["version"] == version
    assert SignFlag.objects.filter(readout=readout, sign="early_release", level="likely").exists()
    page = client_of(cast.coach).get(f"/coach/desk/{Review.objects.get().public_id}/").content.decode()
    for words in ("Early release", "Set-up", "Downswing and impact", "shaft parallel, back", "not validated"):
        assert words in page
    assert "The swing in pictures" not in page
    assert player_events(page, "player-data") == pytest.approx(
        {name: event["t"] for name, event in readout.data["events"].items()}, abs=1e-5
    )


@pytest.mark.parametrize("version", VERSIONS)
def test_an_event_of_it_can_still_be_corrected(cast: Cast, version: str) -> None:
    swing = stored(cast, version)
    top = current(swing).data["events"]["top"]["t"] - 0.03
    correct_event(swing, "top", top, by=cast.coach, now=LATER)
    assert current(swing).data["events"]["top"]["t"] == pytest.approx(top, abs=1e-3)
    assert current(swing).revision == 1


@pytest.mark.parametrize("version", VERSIONS)
def test_measured_again_nothing_that_people_said_is_lost(
    cast: Cast,
    version: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked: list[int] = []
    monkeypatch.setattr("coachhub.swings.tasks.measure.delay", asked.append)
    monkeypatch.setattr("coachhub.swings.domain.runs.after_commit", lambda call, *given: call(*given))
    swing = stored(cast, version)
    old = current(swing)
    top = old.data["events"]["top"]["t"] - 0.03
    correct_event(swing, "top", top, by=cast.coach, now=NOW)
    judge_sign(swing, "early_release", "agree", by=cast.coach, now=NOW)
    review = Review.objects.get()
    Review.objects.filter(pk=review.pk).update(
        state="published", published_at=LATER, published_by=cast.coach, priority="Turf first"
    )
    answer = f"/my/answers/{review.public_id}/"
    before = player_events(client_of(cast.student).get(answer).content.decode(), "replay-data")
    assert before["top"] == pytest.approx(top, abs=1e-3)

    call_command("measure_again", "--all")
    assert "1 sent to be measured" in capsys.readouterr().out
    run = AnalysisRun.objects.exclude(pk=old.run_id).get()
    assert asked[-1] == run.pk
    assert run.code_version == ANALYSIS_VERSION
    assert current(swing).run_id == old.run_id, "until the new one is there, the old one holds"
    hand_in(run, moved(version, tmp_path, by_s=0.05), LATEST)

    fresh = current(swing)
    assert (fresh.run, fresh.revision, swing.readouts.count()) == (run, 1, 4)
    assert fresh.data["events"]["top"]["t"] == pytest.approx(top, abs=1e-3), "the coach's word wins"
    assert swing.readouts.get(run=run, revision=0).data["events"]["finish"]["t"] == pytest.approx(
        old.data["events"]["finish"]["t"] + 0.05, abs=1e-3
    )
    assert swing.judgements.get().verdict == "agree"
    page = client_of(cast.student).get(answer).content.decode()
    assert player_events(page, "replay-data") == before, "the answer shows what it was written on"
    call_command("measure_again", "--all")
    assert "1 already measured" in capsys.readouterr().out


def moved(version: str, folder: Path, *, by_s: float) -> Path:
    """The stored result as another version could have found it: the finish later."""
    out = folder / "result"
    shutil.copytree(result_of(version), out)
    result = json.loads((out / "readout.json").read_text(encoding="utf-8"))
    result["swings"][0]["events"]["finish"]["t"] += by_s
    (out / "readout.json").write_text(json.dumps(result), encoding="utf-8")
    return out
