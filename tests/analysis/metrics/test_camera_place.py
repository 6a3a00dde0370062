"""A camera beside the target line: the same swing, seen from there by the renderer's own 3D points and lens."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analysis.adapters.truth import truth_swing
from analysis.metrics import hand_path
from analysis.metrics.sampler import Missing, Sampler
from analysis.types import Floats
from tests.analysis.conftest import truth_data

# Degrees the golfer is turned under the camera of the truth file.
TURNS = (-8.0, 0.0, 8.0)


def seen_from(data: dict[str, Any], turned_deg: float) -> dict[str, Any]:
    """The truth of a clip whose camera stands elsewhere on a circle around the feet."""
    meta = data["meta"]
    feet = [i for i, name in enumerate(meta["joints"]) if "ankle" in name]
    middle = np.array(data["frames"][0]["j3d"], float)[feet].mean(axis=0)
    frames = [
        frame
        | {
            flat: pictured(meta, _turned(np.array(frame[solid], float), middle, turned_deg)).tolist()
            for flat, solid in (("j2d", "j3d"), ("club2d", "club3d"))
        }
        for frame in data["frames"]
    ]
    return {"meta": meta, "frames": frames}


def _turned(points: Floats, middle: Floats, deg: float) -> Floats:
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return np.asarray((points - middle) @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]).T + middle)


def pictured(meta: dict[str, Any], points: Floats) -> Floats:
    """Through the camera of the truth file: view and projection matrix as in OpenGL."""
    view, lens = (np.array(meta["camera"][name]) for name in ("view_matrix_t0", "proj"))
    seen = np.c_[points, np.ones(len(points))] @ view.T @ lens.T
    x, y = seen[:, 0] / seen[:, 3], seen[:, 1] / seen[:, 3]
    return np.c_[(x + 1) / 2 * meta["width"], (1 - y) / 2 * meta["height"]]


def plane(data: dict[str, Any]) -> tuple[float, float]:
    """The metric's value and its propagated standard error."""
    draws = hand_path.shaft_over_address_line(Sampler(*truth_swing(data)))
    return float(draws[0]), float(np.std(draws[1:]))


def test_the_camera_of_the_truth_file_gives_the_truth_files_picture() -> None:
    data = truth_data("dtl_none")
    again = seen_from(data, 0.0)
    # The first frame's: a hand-held camera moves by some pixels later on.
    off = np.array(again["frames"][0]["j2d"]) - np.array(data["frames"][0]["j2d"])
    assert np.abs(off).max() < 0.5


@pytest.mark.parametrize("name", ["dtl_none", "dtl_steep", "dtl_over_top"])
def test_the_plane_reads_alike_from_beside_the_line(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    data = truth_data(name)
    # As if the camera stood on the line in the middle.
    there = [seen_from(data, turn + data["meta"]["camera"]["yaw_off"]) for turn in TURNS]
    values, errors = np.array([plane(one) for one in there]).T
    monkeypatch.setattr(hand_path, "FLATTER_PER_YAW_DEG", 0.0)
    as_seen = np.array([plane(one)[0] for one in there])
    print(f"\n{name}: from -8, 0, 8 degrees as seen {as_seen.round(1)}, straightened {values.round(1)}")
    assert np.ptp(as_seen) > 8.0
    assert np.ptp(values) < 3.0
    # What is left of it is inside the stated error, which grows with the way off the line.
    assert (np.abs(values - values[1]) < 1.96 * errors).all()
    assert errors[1] < min(errors[0], errors[2])


def test_nobody_tells_the_plane_from_far_off_the_line() -> None:
    with pytest.raises(Missing, match="off the line"):
        plane(seen_from(truth_data("dtl_none"), 32.0))
