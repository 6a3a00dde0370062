"""Runs from the request to the readout; the child is played by a function here, and once by the real one."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as site
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command

from analysis.adapters.sandbox import ChildError
from coachhub.common.enums import JobState
from coachhub.common.sweep import sweep
from coachhub.swings.domain import measuring, results
from coachhub.swings.domain.again import measure_again
from coachhub.swings.domain.runs import lost_runs, request_run, try_again
from coachhub.swings.models import AnalysisRun, Measurement, Readout, SignFlag, Swing
from coachhub.videos.enums import ClipState, SubmissionState
from coachhub.videos.models import Clip
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
FIXTURE = Path(__file__).resolve().parents[3] / "fixtures" / "camp" / "student_a_day1_1.mp4"

Child = Callable[..., None]


def swing_data(start_s: float = 0.2, end_s: float = 2.3, **changed: Any) -> dict[str, Any]:
    return {
        **factories.readout_data({"early_release": "likely", "sway": "not_seen"}),
        "start_s": start_s,
        "end_s": end_s,
        **changed,
    }


def result_of(*swings: dict[str, Any], problems: tuple[dict[str, Any], ...] = ()) -> dict[str, Any]:
    return {
        "version": "1",
        "model_digest": "m",
        "clip": {},
        "problems": list(problems),
        "swings": list(swings),
    }


class FakeChild:
    """Stands in for the limited child: writes what it is told, or fails as it is told."""

    def __init__(self) -> None:
        self.result: dict[str, Any] = result_of(swing_data())
        self.error: Exception | None = None
        self.meanwhile: Callable[[], None] = lambda: None
        self.orders: list[dict[str, Any]] = []

    def __call__(self, target: str, kwargs: dict[str, Any], *, limits: Any, on_progress: Any) -> None:
        assert target == "analysis.pipeline:analyse_to_dir"
        assert Path(kwargs["path"]).read_bytes() == b"a clip"
        self.orders.append(kwargs)
        on_progress("looking for the swing", 30)
        self.meanwhile()
        on_progress("measuring", 80)
        if self.error:
            raise self.error
        (Path(kwargs["out_dir"]) / "readout.json").write_text(json.dumps(self.result))
        (Path(kwargs["out_dir"]) / "tracks.json").write_text('{"swings": []}')


@pytest.fixture
def child(monkeypatch: pytest.MonkeyPatch) -> FakeChild:
    fake = FakeChild()
    monkeypatch.setattr(measuring, "run_limited", fake)
    return fake


@pytest.fixture(autouse=True)
def sent(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """What was sent to the workers."""
    numbers: list[int] = []
    monkeypatch.setattr("coachhub.swings.tasks.measure.delay", numbers.append)
    return numbers


def playable(**fields: Any) -> Clip:
    student = factories.make_student(cohort := factories.make_cohort())
    submission = factories.make_submission(student, cohort, state=SubmissionState.SENT, settled_at=None)
    made = factories.make_clip(submission, state=ClipState.PLAYABLE, **fields)
    default_storage.save(made.original_key, ContentFile(b"a clip"))
    return made


def measured(run: AnalysisRun, now: datetime = NOW) -> AnalysisRun:
    measuring.measure_run(run.pk, clock=lambda: now)
    run.refresh_from_db()
    return run


# Asking


def test_asking_twice_is_one_run(django_capture_on_commit_callbacks: Any, sent: list[int]) -> None:
    clip = playable()
    with django_capture_on_commit_callbacks(execute=True):
        first, second = request_run(clip, now=NOW), request_run(clip, now=NOW)
    assert first.pk == second.pk
    assert sent == [first.pk, first.pk]
    assert first.parameters == {"declared_view": "face_on", "declared_hand": "right", "club_class": "iron"}


def test_equal_content_is_measured_once_and_other_parameters_are_not_equal() -> None:
    one, other = playable(), playable()
    Clip.objects.filter(pk=other.pk).update(sha256=one.sha256)
    other.refresh_from_db()
    assert request_run(one, now=NOW).pk == request_run(other, now=NOW).pk
    Clip.objects.filter(pk=other.pk).update(view="dtl")
    other.refresh_from_db()
    assert request_run(other, now=NOW).pk != request_run(one, now=NOW).pk


# Measuring


def test_a_measured_clip_has_swing_readout_and_signs_and_is_usable(child: FakeChild) -> None:
    clip = playable()
    run = measured(request_run(clip, now=NOW))
    assert (run.job_state, run.percent) == (JobState.DONE, 100)
    swing = Swing.objects.get()
    assert (swing.clip, swing.number, swing.start_s, swing.end_s) == (clip, 1, 0.2, 2.3)
    readout = Readout.objects.get()
    assert (readout.run, readout.revision, readout.is_current) == (run, 0, True)
    assert readout.data["run_swing"] == 1
    assert set(SignFlag.objects.values_list("sign", "level")) == {
        ("early_release", "likely"),
        ("sway", "not_seen"),
    }
    clip.refresh_from_db()
    assert clip.state == ClipState.USABLE
    clip.submission.refresh_from_db()
    assert clip.submission.state == SubmissionState.USABLE
    with default_storage.open(f"{run.result_key}/tracks.json") as file:
        assert json.load(file) == {"swings": []}
    assert child.orders[0]["options"] == run.parameters


def test_progress_is_on_the_row_while_it_runs(child: FakeChild) -> None:
    run = request_run(playable(), now=NOW)
    seen: list[Any] = []
    child.meanwhile = lambda: seen.append(
        AnalysisRun.objects.values_list("job_state", "stage", "percent").get()
    )
    measured(run)
    assert seen == [("running", "looking for the swing", 30)]


def test_the_same_message_twice_measures_once(child: FakeChild) -> None:
    run = request_run(playable(), now=NOW)
    measured(run)
    measured(run)
    assert len(child.orders) == 1
    assert (Swing.objects.count(), Readout.objects.count()) == (1, 1)


def test_a_running_run_is_left_alone(child: FakeChild) -> None:
    run = request_run(playable(), now=NOW)
    child.meanwhile = lambda: measuring.measure_run(run.pk, clock=lambda: NOW)
    measured(run)
    assert len(child.orders) == 1


def test_a_worker_that_lost_its_lease_keeps_nothing(child: FakeChild) -> None:
    run = request_run(playable(), now=NOW)
    later = NOW + timedelta(minutes=5)
    child.meanwhile = lambda: lost_runs(later) and None
    measured(run)
    assert (run.job_state, run.attempts) == (JobState.WAITING, 1)
    assert not Swing.objects.exists()
    child.meanwhile = lambda: None
    assert measured(run, later).job_state == JobState.DONE
    assert Swing.objects.count() == 1


def test_losing_the_lease_at_the_very_end_drops_result_and_files(child: FakeChild, tmp_path: Path) -> None:
    run = request_run(playable(), now=NOW)
    measuring.jobs.claim(AnalysisRun.objects.all(), run.pk, now=NOW, lease=timedelta(seconds=45))
    stale = AnalysisRun.objects.get()
    AnalysisRun.objects.update(lease_token=None)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "readout.json").write_text(json.dumps(result_of(swing_data())))
    with pytest.raises(results.LeaseLost):
        results.store_result(stale, tmp_path / "out", now=NOW)
    assert not Swing.objects.exists()
    assert not list((Path(site.MEDIA_ROOT) / "measured").rglob("*.json"))


def test_two_clips_of_equal_content_get_swings_each_from_one_run(child: FakeChild) -> None:
    one, other = playable(), playable()
    Clip.objects.filter(pk=other.pk).update(sha256=one.sha256)
    other.refresh_from_db()
    run = request_run(one, now=NOW)
    request_run(other, now=NOW)
    measured(run)
    assert len(child.orders) == 1
    assert sorted(Swing.objects.values_list("clip_id", flat=True)) == sorted([one.pk, other.pk])


def test_a_clip_that_comes_after_the_result_takes_it_over(child: FakeChild) -> None:
    one, other = playable(), playable()
    run = measured(request_run(one, now=NOW))
    Clip.objects.filter(pk=other.pk).update(sha256=one.sha256)
    other.refresh_from_db()
    assert request_run(other, now=NOW).pk == run.pk
    measured(run)
    other.refresh_from_db()
    assert (other.state, other.swings.count(), len(child.orders)) == (ClipState.USABLE, 1, 1)


def test_several_swings_are_numbered_and_a_false_one_leaves_its_number_out(child: FakeChild) -> None:
    child.result = result_of(swing_data(0.2, 2.0), swing_data(3.0, 4.0, usable=False), swing_data(6.0, 8.0))
    measured(request_run(playable(), now=NOW))
    found = Readout.objects.order_by("swing__number").values_list("swing__number", "data__run_swing")
    assert list(found) == [(1, 1), (2, 3)]


# Refusals and trouble


def test_a_clip_without_golfer_is_refused_with_the_sentence(child: FakeChild) -> None:
    problem = {"code": "no_golfer", "sentence": "Nobody is in the picture.", "fatal": True}
    child.result = result_of(problems=(problem,))
    clip = playable()
    assert measured(request_run(clip, now=NOW)).job_state == JobState.DONE
    clip.refresh_from_db()
    assert (clip.state, clip.refused_code, clip.refused_text) == (
        ClipState.REFUSED,
        "no_golfer",
        "Nobody is in the picture.",
    )
    clip.submission.refresh_from_db()
    assert clip.submission.state == SubmissionState.REFILM


def test_when_no_swing_was_one_after_all_the_clip_is_refused(child: FakeChild) -> None:
    problem = {"code": "no_swing", "sentence": "No full swing.", "fatal": True}
    child.result = result_of(swing_data(usable=False, problems=[problem]))
    clip = playable()
    measured(request_run(clip, now=NOW))
    clip.refresh_from_db()
    assert (clip.state, clip.refused_text, Swing.objects.count()) == (ClipState.REFUSED, "No full swing.", 0)


def test_mild_problems_become_warnings(child: FakeChild) -> None:
    mild = {"code": "mirrored", "sentence": "Is this video mirrored?", "fatal": False}
    child.result = result_of(swing_data(problems=[mild]), problems=(mild,))
    clip = playable()
    measured(request_run(clip, now=NOW))
    clip.refresh_from_db()
    assert clip.warnings == [{"code": "mirrored", "sentence": "Is this video mirrored?"}]


def test_an_unreadable_clip_is_refused(child: FakeChild) -> None:
    child.error = ChildError("refused", "not_a_video", "This file is not a video.")
    clip = playable()
    run = measured(request_run(clip, now=NOW))
    clip.refresh_from_db()
    assert (run.job_state, clip.state, clip.refused_text) == (
        JobState.FAILED,
        ClipState.REFUSED,
        "This file is not a video.",
    )


@pytest.mark.parametrize("code", ["failed", "out_of_time"])
def test_our_own_trouble_leaves_the_clip_to_the_coach_without_numbers(child: FakeChild, code: str) -> None:
    child.error = ChildError("limit", code, "It took too long.", "traceback")
    clip = playable()
    run = measured(request_run(clip, now=NOW))
    clip.refresh_from_db()
    assert (run.job_state, run.error_code, clip.state) == (JobState.FAILED, code, ClipState.USABLE)
    assert [warning["code"] for warning in clip.warnings] == ["not_measured"]


def test_a_crash_is_tried_three_times_and_then_nothing_is_lost(child: FakeChild) -> None:
    child.error = ChildError("crash", "crashed", "It ended unexpectedly.")
    clip = playable()
    run = request_run(clip, now=NOW)
    for attempt in (1, 2):
        assert measured(run).job_state == JobState.WAITING
        assert run.attempts == attempt
    assert measured(run).job_state == JobState.FAILED
    clip.refresh_from_db()
    assert clip.state == ClipState.USABLE


def test_a_missing_original_is_our_trouble(child: FakeChild) -> None:
    clip = playable()
    default_storage.delete(clip.original_key)
    run = measured(request_run(clip, now=NOW))
    clip.refresh_from_db()
    assert (run.error_code, clip.state) == ("source_gone", ClipState.USABLE)


def test_numbers_that_json_does_not_know_are_not_stored(child: FakeChild) -> None:
    child.result = result_of(swing_data(fps=float("nan")))
    run = request_run(playable(), now=NOW)
    with pytest.raises(ValueError, match="strict JSON"):
        measured(run)
    assert not Readout.objects.exists()


# The sweep


def test_the_sweep_sends_a_silent_run_again(sent: list[int]) -> None:
    run = request_run(playable(), now=NOW)
    measuring.jobs.claim(AnalysisRun.objects.all(), run.pk, now=NOW, lease=site.JOB_LEASE)
    sweep(now=NOW + timedelta(seconds=44))
    assert sent == []
    sweep(now=NOW + timedelta(seconds=46))
    assert sent == [run.pk]


def test_the_sweep_settles_the_clips_of_a_run_that_was_given_up(child: FakeChild, sent: list[int]) -> None:
    clip = playable()
    run = request_run(clip, now=NOW)
    AnalysisRun.objects.update(job_state=JobState.RUNNING, attempts=3, lease_until=NOW)
    sweep(now=NOW + timedelta(seconds=1))
    assert sent == [run.pk]
    measured(run)
    clip.refresh_from_db()
    assert (run.error_code, clip.state) == ("gave_up", ClipState.USABLE)
    sent.clear()
    sweep(now=NOW + timedelta(hours=1))
    assert sent == []


# Measuring again


def new_version(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coachhub.swings.domain.runs.ANALYSIS_VERSION", "next")


def test_a_new_version_keeps_the_swing_and_adds_a_readout(
    child: FakeChild, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip = playable()
    first = measured(request_run(clip, now=NOW))
    swing = Swing.objects.get()
    new_version(monkeypatch)
    child.result = result_of(swing_data(0.3, 2.4), swing_data(5, 7))
    counts = measure_again(Clip.objects.all(), now=NOW)
    assert (counts.asked, counts.current) == (1, 0)
    second = measured(Measurement.objects.get().run)
    assert second.pk != first.pk
    swing.refresh_from_db()
    assert (swing.start_s, swing.end_s, clip.swings.count()) == (0.3, 2.4, 2)
    current = swing.readouts.get(is_current=True)
    assert (current.run, swing.readouts.count()) == (second, 2)
    assert measure_again(Clip.objects.all(), now=NOW).current == 1


def test_a_failed_run_is_tried_again_on_request(child: FakeChild) -> None:
    child.error = ChildError("failed", "failed", "Our mistake.")
    run = measured(request_run(playable(), now=NOW))
    child.error = None
    assert try_again(run, now=NOW)
    assert not try_again(run, now=NOW)
    assert measured(run).job_state == JobState.DONE
    assert Readout.objects.count() == 1


def test_the_command_says_what_it_did(child: FakeChild, capsys: pytest.CaptureFixture[str]) -> None:
    clip = playable()
    measured(request_run(clip, now=NOW))
    call_command("measure_again", "--all")
    assert "1 already measured" in capsys.readouterr().out
    call_command("measure_again", "--clip", str(clip.public_id))
    for wrong in ("no-id", "00000000-0000-0000-0000-000000000000"):
        with pytest.raises(CommandError, match="public id"):
            call_command("measure_again", "--clip", wrong)


def test_a_real_clip_goes_the_whole_way_through_the_limited_child() -> None:
    clip = playable()
    key = default_storage.save("originals/real", ContentFile(FIXTURE.read_bytes()))
    Clip.objects.filter(pk=clip.pk).update(original_key=key)
    clip.refresh_from_db()
    run = measured(request_run(clip, now=NOW))
    assert run.error_text == ""
    clip.refresh_from_db()
    assert clip.state == ClipState.USABLE
    readout = Readout.objects.get()
    assert {"address", "top", "impact"} <= set(readout.data["events"])
    made = readout.data["pictures"]
    assert set(made["stills"]) == set(readout.data["events"])
    stored = set(default_storage.listdir(run.result_key)[1])
    assert {"sheet_1.jpg", "timings.json", *(f"still_1_{event}.jpg" for event in made["stills"])} <= stored
    assert "timings" not in readout.data
    assert default_storage.exists(f"{run.result_key}/tracks.json")
