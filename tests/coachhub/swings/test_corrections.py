"""Corrections and judgements on stored tracks; the numbers come from the real measuring, made once."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage

from analysis.types import EVENTS
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.swings.domain import measuring
from coachhub.swings.domain.corrections import correct_event, drop_correction
from coachhub.swings.domain.joints import correct_joint, drop_joint_corrections, with_corrected_joints
from coachhub.swings.domain.judgements import drop_judgement, judge_sign
from coachhub.swings.domain.results import store_result
from coachhub.swings.enums import SignKey, SwingEvent
from coachhub.swings.models import AnalysisRun, Readout, SignFlag, SignJudgement, Swing
from coachhub.videos.enums import ClipState, SubmissionState
from tests import factories, measured
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
FIXTURE = Path(__file__).resolve().parents[3] / "fixtures" / "camp" / "student_a_day1_1.mp4"
LATER = NOW + timedelta(hours=1)


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("result")
    place = {"path": str(FIXTURE), "out_dir": str(folder), "options": {"declared_view": "face_on"}}
    measured.run_limited(measuring.TARGET, place, limits=measuring.limits())
    return folder


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def make_measured(cast: Cast, result: Path) -> Swing:
    submission = factories.make_submission(
        cast.student, cast.cohort, state=SubmissionState.SENT, settled_at=None
    )
    clip = factories.make_clip(submission, state=ClipState.PLAYABLE)
    run = factories.make_run(clip, job_state="waiting")
    held = measuring.jobs.claim(AnalysisRun.objects.all(), run.pk, now=NOW, lease=timedelta(minutes=1))
    assert held is not None
    store_result(held, result, now=NOW)
    return Swing.objects.get(clip=clip)


@pytest.fixture
def swing(cast: Cast, result: Path) -> Swing:
    return make_measured(cast, result)


def current(swing: Swing) -> Readout:
    return swing.readouts.get(is_current=True)


def test_event_and_sign_names_are_those_of_the_measuring(swing: Swing) -> None:
    assert tuple(SwingEvent.values) == EVENTS
    assert set(current(swing).data["signs"]) == set(SignKey.values)


def test_a_corrected_event_moves_and_the_numbers_follow(swing: Swing, cast: Cast) -> None:
    before = current(swing).data
    top = before["events"]["top"]["t"] - 0.05
    after = correct_event(swing, "top", top, by=cast.coach, now=LATER)
    assert (after.revision, after.is_current, after.data["run_swing"]) == (1, True, 1)
    assert after.data["events"]["top"]["t"] == pytest.approx(top, abs=1e-3)
    # Backswing shorter by 50 ms, downswing longer by as much (definition of the tempo ratio).
    impact, takeaway = (before["events"][name]["t"] for name in ("impact", "takeaway"))
    tempo = (top - takeaway) / (impact - top)
    assert after.data["metrics"]["tempo_ratio"]["value"] == pytest.approx(tempo, rel=0.02)
    assert after.data["metrics"] != before["metrics"]
    assert swing.readouts.filter(is_current=True).count() == 1
    assert SignFlag.objects.filter(readout=after).count() == len(SignKey.values)
    assert swing.readouts.get(revision=0).data == before


def test_correcting_two_events_keeps_both_and_dropping_one_keeps_the_other(swing: Swing, cast: Cast) -> None:
    found = current(swing).data["events"]
    top, finish = found["top"]["t"] - 0.03, found["finish"]["t"] - 0.05
    correct_event(swing, "top", top, by=cast.coach, now=LATER)
    both = correct_event(swing, "finish", finish, by=cast.coach, now=LATER)
    assert both.data["events"]["top"]["t"] == pytest.approx(top, abs=1e-3)
    one = drop_correction(swing, "top", by=cast.coach, now=LATER)
    assert one.data["events"]["top"]["t"] == pytest.approx(found["top"]["t"], abs=1e-3)
    assert one.data["events"]["finish"]["t"] == pytest.approx(finish, abs=1e-3)
    assert drop_correction(swing, "top", by=cast.coach, now=LATER) == one


@pytest.mark.parametrize("t_s", [-1.0, 99.0])
def test_a_time_outside_the_swing_is_refused_in_words(swing: Swing, cast: Cast, t_s: float) -> None:
    with pytest.raises(RuleBroken, match="must lie within the swing"):
        correct_event(swing, "top", t_s, by=cast.coach, now=LATER)


def test_an_order_that_no_swing_has_is_refused_and_nothing_stays(swing: Swing, cast: Cast) -> None:
    impact = current(swing).data["events"]["impact"]["t"]
    with pytest.raises(RuleBroken, match=r"“top” .* can't come after “lead arm parallel, down”"):
        correct_event(swing, "top", impact + 0.1, by=cast.coach, now=LATER)
    assert not swing.corrections.exists()
    assert current(swing).revision == 0


def test_corrections_are_applied_again_to_a_new_versions_result(
    swing: Swing, cast: Cast, result: Path
) -> None:
    top = current(swing).data["events"]["top"]["t"] - 0.05
    correct_event(swing, "top", top, by=cast.coach, now=LATER)
    clip = swing.clip
    newer = AnalysisRun.objects.create(
        clip_digest=clip.sha256,
        code_version="newer",
        model_digest="m",
        parameters_digest="p",
        source_key=clip.original_key,
        queued_at=NOW,
    )
    clip.measurement.run = newer
    clip.measurement.save()
    held = measuring.jobs.claim(AnalysisRun.objects.all(), newer.pk, now=LATER, lease=timedelta(minutes=1))
    assert held is not None
    store_result(held, result, now=LATER)
    readout = current(swing)
    assert (readout.run, readout.revision) == (newer, 1)
    assert readout.data["events"]["top"]["t"] == pytest.approx(top, abs=1e-3)
    machine: Any = swing.readouts.get(run=newer, revision=0)
    assert machine.data["events"]["top"]["t"] != pytest.approx(top, abs=1e-3)


def test_an_unmeasured_swing_has_no_event_to_correct(cast: Cast) -> None:
    clip = factories.make_clip(factories.make_submission(cast.student, cast.cohort))
    swing = Swing.objects.create(clip=clip, number=1, start_s=0, end_s=2, created_at=NOW)
    with pytest.raises(RuleBroken, match="not measured"):
        correct_event(swing, "top", 1.0, by=cast.coach, now=NOW)


# Judgements


def test_the_latest_word_counts_once_per_coach(swing: Swing, cast: Cast) -> None:
    other = factories.make_user("Bo Second")
    factories.join(other, cast.cohort, "coach")
    judge_sign(swing, "early_release", "agree", by=cast.coach, now=NOW)
    judge_sign(swing, "early_release", "not_this", by=cast.coach, at_s=swing.start_s, now=LATER)
    judge_sign(swing, "early_release", "agree", by=other, now=LATER)
    words = SignJudgement.objects.values_list("by", "verdict").order_by("by")
    assert list(words) == [(cast.coach.pk, "not_this"), (other.pk, "agree")]
    assert Event.objects.filter(verb="sign.judged").count() == 3


def test_a_sign_that_was_not_flagged_can_be_set_and_taken_back(swing: Swing, cast: Cast) -> None:
    SignFlag.objects.all().delete()
    judge_sign(swing, "sway", "agree", by=cast.coach, now=NOW)
    assert drop_judgement(swing, "sway", by=cast.coach, now=NOW)
    assert not drop_judgement(swing, "sway", by=cast.coach, now=NOW)


def test_unknown_signs_verdicts_and_frames_outside_are_refused(swing: Swing, cast: Cast) -> None:
    with pytest.raises(ValueError, match="sign must be"):
        judge_sign(swing, "magic", "agree", by=cast.coach, now=NOW)
    with pytest.raises(ValueError, match="verdict must be"):
        judge_sign(swing, "sway", "maybe", by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken, match="within the swing"):
        judge_sign(swing, "sway", "agree", by=cast.coach, at_s=99, now=NOW)


def test_only_a_coach_of_the_cohort_judges_and_corrects(swing: Swing, cast: Cast) -> None:
    for stranger in (cast.coach_elsewhere, cast.organiser, cast.student):
        with pytest.raises(RuleBroken, match="Only a coach"):
            judge_sign(swing, "sway", "agree", by=stranger, now=NOW)
        with pytest.raises(RuleBroken, match="Only a coach"):
            correct_event(swing, "top", swing.start_s + 0.5, by=stranger, now=NOW)
    assert not swing.judgements.exists()
    assert not swing.corrections.exists()


def test_a_dragged_joint_moves_the_numbers_and_the_lines_and_can_be_taken_back(
    swing: Swing, cast: Cast
) -> None:
    before = current(swing).data
    tracks = stored_tracks(swing)
    impact = before["events"]["impact"]["t"]
    row = min(range(len(tracks["t_us"])), key=lambda i: abs(tracks["t_us"][i] / 1e6 - impact))
    x, y, _ = tracks["joints"]["left_shoulder"][row]
    after = correct_joint(
        swing, "left_shoulder", tracks["t_us"][row], (x + 0.05, y), by=cast.coach, now=LATER
    )
    assert (after.revision, after.is_current) == (1, True)
    changed = [name for name, found in after.data["metrics"].items() if found != before["metrics"][name]]
    assert changed, "a shoulder 5 % of the width away at impact must move some number"
    lines = with_corrected_joints(tracks, after.data["joint_rows"])
    assert lines["joints"]["left_shoulder"][row] == pytest.approx([x + 0.05, y, 1.0], abs=1e-3)
    assert lines["joints"]["right_shoulder"] == tracks["joints"]["right_shoulder"]
    # An event corrected on top keeps the joint.
    top = before["events"]["top"]["t"] - 0.05
    both = correct_event(swing, "top", top, by=cast.coach, now=LATER)
    assert both.data["joint_rows"] == after.data["joint_rows"]
    drop_correction(swing, "top", by=cast.coach, now=LATER)
    back = drop_joint_corrections(swing, "left_shoulder", by=cast.coach, now=LATER)
    assert back.data["metrics"] == before["metrics"] and "joint_rows" not in back.data
    verbs = list(Event.objects.filter(thing_id=swing.public_id).values_list("verb", flat=True))
    assert [verb for verb in verbs if "joint" in verb] == [
        "swing.joint_corrected",
        "swing.joint_correction_dropped",
    ]


def stored_tracks(swing: Swing) -> dict[str, Any]:
    run = current(swing).run
    with default_storage.open(f"{run.result_key}/tracks.json") as file:
        found: dict[str, Any] = json.load(file)["swings"][0]
    return found


def test_a_joint_is_only_moved_by_a_coach_inside_the_picture_and_the_swing(swing: Swing, cast: Cast) -> None:
    for change in (
        {"by": cast.student},
        {"by": cast.coach_elsewhere},
        {"xy": (1.2, 0.5)},
        {"t_us": 59_000_000},
    ):
        given = {"t_us": round(swing.start_s * 1e6), "xy": (0.5, 0.5), "by": cast.coach} | change
        with pytest.raises(RuleBroken):
            correct_joint(swing, "left_wrist", now=LATER, **given)
    assert current(swing).revision == 0 and not swing.joint_corrections.exists()
