"""The shaft network: the same answers in another runtime, and on the part of its square that holds the picture."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.adapters.club_net import CELL, SIDE, WHOLE, Crop, ShaftNet, crop_around, cut
from analysis.adapters.digests import checked_model
from analysis.adapters.truth import read_truth, truth_swing
from analysis.adapters.video import decode
from analysis.geometry import wrap_deg

CLIPS = Path(__file__).resolve().parents[3] / "fixtures" / "clips"
Look = tuple[np.ndarray, np.ndarray, np.ndarray]


@pytest.fixture(scope="module")
def net() -> ShaftNet:
    return ShaftNet()


@pytest.fixture(scope="module")
def looks() -> tuple[Crop, tuple[int, int], list[Look]]:
    """A crop, the picture's width and height, and every tenth frame of a swing with its neighbours."""
    swing, events = truth_swing(read_truth(CLIPS / "dtl_none.json.gz"))
    pose = swing.pose
    stature = float(np.ptp(pose.xy[0, :, 1])) / 0.84
    feet = float(pose.joint("left_heel")[0, 1])
    crop = crop_around(float(pose.joint("left_hip")[0, 0]), feet, stature)
    start, end = events["address"].t_s, events["finish"].t_s
    frames = [frame.rgb for frame in decode(CLIPS / "dtl_none.mp4", start_s=start, end_s=end)]
    height, width = frames[0].shape[:2]
    crops = [cut(rgb, crop) for rgb in frames]
    found = [(crops[i], crops[i - 1], crops[i + 1]) for i in range(1, len(crops) - 1, 10)]
    return crop, (width, height), found


@pytest.mark.unit
def test_another_runtime_gives_the_same_maps(looks: tuple[Crop, tuple[int, int], list[Look]]) -> None:
    """ONNX Runtime, which the product uses, against OpenCV's dnn module: two programs for one open format."""
    import onnxruntime

    path = str(checked_model("shaft.onnx"))
    ours = onnxruntime.InferenceSession(path, providers=["CPUExecutionProvider"])
    other = cv2.dnn.readNet(path)
    for now, before, after in looks[2][::3]:
        grey = [cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)[..., None] for picture in (before, after)]
        planes = np.concatenate([now, *grey], 2).transpose(2, 0, 1)[None].astype(np.float32) / 255
        other.setInput(planes, "x")
        names = ["dense", "glob"]
        for a, b in zip(ours.run(names, {"x": planes}), other.forward(names), strict=True):
            assert np.abs(a - b).max() <= 1e-3


@pytest.mark.unit
def test_the_part_inside_the_picture_tells_what_the_whole_square_tells(
    net: ShaftNet, looks: tuple[Crop, tuple[int, int], list[Look]], capsys: pytest.CaptureFixture[str]
) -> None:
    crop, size, found = looks
    part = crop.inside(*size)
    share = (part[0].stop - part[0].start) * (part[1].stop - part[1].start) / SIDE**2
    apart, doubt = [], []
    for now, before, after in found:
        whole, narrow = net.look(now, before, after, crop), net.look(now, before, after, crop, part)
        if whole.confidence >= 0.5:
            apart.append(abs(float(wrap_deg(np.array(whole.deg - narrow.deg)))))
        doubt.append(abs(whole.confidence - narrow.confidence))
    with capsys.disabled():
        print(
            f"\n{share:.2f} of the square: direction differs by {np.median(apart):.2f} degrees at the median, "
            f"{max(apart):.2f} at most; confidence by {np.median(doubt):.3f} and {max(doubt):.3f}"
        )
    assert share <= 0.75
    assert len(apart) >= 5
    assert np.median(apart) <= 0.5
    assert max(apart) <= 3
    assert np.median(doubt) <= 0.03


def _filled(crop: Crop, width: int, height: int) -> Iterator[np.ndarray]:
    """Which rows, and which columns, of the crop show something of a white picture."""
    square = cut(np.full((height, width, 3), 255, np.uint8), crop).any(2)
    yield from (square.any(1), square.any(0))


@pytest.mark.unit
@given(
    st.integers(40, 400),
    st.integers(40, 400),
    st.integers(-300, 300),
    st.integers(-300, 300),
    st.integers(60, 500),
)
def test_no_piece_of_the_picture_is_left_out(width: int, height: int, x: int, y: int, side: int) -> None:
    crop = Crop(2.0 * x, 2.0 * y, 2.0 * side)
    for span, filled in zip(crop.inside(width, height), _filled(crop, width, height), strict=True):
        assert 0 <= span.start < span.stop <= SIDE
        assert span.start % CELL == 0
        assert (span.stop - span.start) % WHOLE == 0
        rows = np.flatnonzero(filled)
        if rows.size:
            assert span.start <= rows[0]
            assert rows[-1] < span.stop
