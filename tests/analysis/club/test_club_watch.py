"""The club is still found when the network's file is not what it should be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.adapters import digests
from analysis.adapters.club_net import crop_around
from analysis.adapters.club_watch import ClubWatch, hands_and_limbs
from analysis.adapters.stopwatch import Stopwatch
from analysis.adapters.truth import read_truth, truth_swing
from analysis.adapters.video import decode
from analysis.club.combine import source_shares
from analysis.geometry import wrap_deg
from analysis.types import JOINT_INDEX, JOINTS, PoseTrack

CLIPS = Path(__file__).resolve().parents[3] / "fixtures" / "clips"


@pytest.mark.unit
def test_without_its_network_the_lines_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(digests.SHA256, "shaft.onnx", "0" * 64)
    digests.checked_model.cache_clear()
    swing, events = truth_swing(read_truth(CLIPS / "dtl_none.json.gz"))
    pose = swing.pose
    stature = float(np.ptp(pose.xy[0, :, 1])) / 0.84
    feet = float(pose.joint("left_heel")[0, 1])
    crop = crop_around(float(pose.joint("left_hip")[0, 0]), feet, stature)
    watch = ClubWatch(crop, 1, stature, 1.0, 0.0, Stopwatch())
    start, end = events["address"].t_s, events["impact"].t_s
    for frame in decode(CLIPS / "dtl_none.mp4", start_s=start, end_s=end):
        watch.add(frame, True)
    club = watch.finish(pose)
    digests.checked_model.cache_clear()
    true = np.interp(club.t_s, swing.club.t_s, np.unwrap(np.radians(swing.club.deg)))
    answered = club.confidence >= 0.5
    wrong = np.abs(wrap_deg(club.deg - np.degrees(true)))[answered]
    assert source_shares(club)["network"] == 0
    assert club.from_lines[answered].all()
    assert answered.mean() > 0.6
    assert np.mean(wrong < 5) > 0.9


@pytest.mark.unit
def test_hands_come_from_wrists_knuckles_and_forearms() -> None:
    xy = np.zeros((3, len(JOINTS), 2))
    for side, x in (("left", 10.0), ("right", 20.0)):
        for name, y in (("elbow", 0.0), ("wrist", 40.0), ("index", 60.0)):
            xy[:, JOINT_INDEX[f"{side}_{name}"]] = [x, y]
    xy[1] = np.nan
    pose = PoseTrack(np.array([0.0, 0.1, 0.2]), xy, np.ones((3, len(JOINTS))), 100, 100)
    hands, limbs = hands_and_limbs(pose, np.array([0.05, 0.1]))
    assert hands[1].tolist() == [[10, 50], [10, 50], [20, 50], [20, 50], [15, 50]]
    assert limbs.shape == (2, 10, 2, 2)
    assert limbs[0, 0].tolist() == [[10, 0], [10, 40]]
