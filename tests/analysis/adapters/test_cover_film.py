"""The covering against truth: rendered clips carry the exact place of the head in every frame."""

from __future__ import annotations

import math
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest

from analysis.adapters.cover_film import GREY, cover_to_dir
from analysis.adapters.media import MediaError
from analysis.adapters.pose import PoseFinder
from analysis.adapters.sandbox import Limits, run_limited
from analysis.adapters.truth import read_truth
from analysis.types import JOINTS

pytestmark = pytest.mark.unit

CLIPS = Path(__file__).parents[3] / "fixtures" / "clips"
LIMITS = Limits(cpu_s=400, memory_bytes=3 * 1024**3, file_bytes=2**28, wall_s=300)
SPAN_US = (1_000_000, 1_800_000)
HEAD = ("coco_nose", "coco_left_eye", "coco_right_eye", "coco_left_ear", "coco_right_ear", "head")
# What the box over the golfer's face may hold at most: the film's own noise on one flat grey.
FLAT = 4.0


def frames_of(path: Path) -> tuple[list[float], list[Any]]:
    with av.open(str(path)) as film:
        shown = [(float(f.pts * f.time_base), f.to_ndarray(format="rgb24")) for f in film.decode(video=0)]
    return [t for t, _ in shown], [picture for _, picture in shown]


def tracks_by_model(path: Path) -> dict[str, Any]:
    """What the measuring would have stored."""
    rows: dict[str, list[Any]] = {name: [] for name in JOINTS}
    times, pictures = frames_of(path)
    with PoseFinder() as finder:
        for t, picture in zip(times, pictures, strict=True):
            if not SPAN_US[0] / 1e6 - 0.2 <= t - times[0] <= SPAN_US[1] / 1e6 + 0.2:
                continue
            xy, sure = finder.find(picture, t - times[0])
            rows.setdefault("t", []).append(round((t - times[0]) * 1e6))
            for name, (x, y), c in zip(JOINTS, xy, sure, strict=True):
                rows[name].append(
                    [x / picture.shape[1], y / picture.shape[0], float(c)] if math.isfinite(x) else None
                )
    return {"t_us": rows.pop("t"), "joints": rows}


def head_disc(truth: dict[str, Any], frame: int) -> tuple[float, float, float]:
    """The rendered head: middle of its landmarks, and half of its length (0.130 of the height) around them, in px."""
    meta = truth["meta"]
    places = np.array([truth["frames"][frame]["j2d"][meta["joints"].index(name)] for name in HEAD])
    camera = meta["camera"]
    px_per_m = meta["height"] / 2 / math.tan(math.radians(camera["vfov_deg"]) / 2) / camera["dist"]
    return (*places.mean(axis=0), 0.5 * 0.130 * meta["body_height_m"] * px_per_m)


def disc_pixels(picture: Any, disc: tuple[float, float, float]) -> Any:
    mask = np.zeros(picture.shape[:2], np.uint8)
    cv2.circle(mask, (round(disc[0]), round(disc[1])), round(disc[2]), 255, -1)
    return picture[mask > 0].astype(float)


def with_sound_and_tags(path: Path, out: Path) -> Path:
    with av.open(str(path)) as source, av.open(str(out), "w") as film:
        film.metadata.update({"title": "Sam at the range", "location": "+50.1+008.6/", "comment": "IMG_0042"})
        stream = source.streams.video[0]
        video, audio = (
            film.add_stream_from_template(stream),
            film.add_stream("aac", rate=48_000, layout="mono"),
        )
        for packet in source.demux(stream):
            if packet.dts is not None:
                packet.stream = video
                film.mux(packet)
        tone = np.sin(np.arange(1024 * 100) / 20).astype(np.float32)
        for number in range(100):
            frame = av.AudioFrame.from_ndarray(
                tone[None, number * 1024 : (number + 1) * 1024], "fltp", "mono"
            )
            frame.sample_rate, frame.pts, frame.time_base = 48_000, number * 1024, Fraction(1, 48_000)
            film.mux(audio.encode(frame))
        film.mux(audio.encode(None))
    return out


@pytest.mark.parametrize("name", ["fo_early", "dtl_steep"])
def test_the_true_head_is_covered_in_every_frame(name: str, tmp_path: Path) -> None:
    """In the limited child, from the joints that the pose model finds, as in the product."""
    source = with_sound_and_tags(CLIPS / f"{name}.mp4", tmp_path / "source.mp4")
    tracks, truth = tracks_by_model(source), read_truth(CLIPS / f"{name}.json.gz")
    gone = len(tracks["t_us"]) // 2
    for joints in tracks["joints"].values():
        joints[gone] = None
    out = tmp_path / "out"
    out.mkdir()
    made = run_limited(
        "analysis.adapters.cover_film:cover_to_dir",
        {
            "path": str(source),
            "tracks": [tracks],
            "span_us": list(SPAN_US),
            "margin": 1.0,
            "out_dir": str(out),
        },
        limits=LIMITS,
    )
    times, pictures = frames_of(out / "film.mp4")
    first = next(
        i
        for i, f in enumerate(truth["frames"])
        if f["t"] - truth["frames"][0]["t"] >= SPAN_US[0] / 1e6 - 1e-3
    )
    assert len(pictures) == made["frames"] == 49
    assert made["whole"] == 0 and made["widened"] >= 0
    assert times[0] == 0 and times[-1] == pytest.approx(0.8, abs=0.02)
    before = frames_of(source)[1]
    for number, picture in enumerate(pictures):
        disc = head_disc(truth, first + number)
        told = disc_pixels(before[first + number], disc)
        left = disc_pixels(picture, disc)
        assert told.std() > 3 * FLAT, "the uncovered head has detail: else the measure measures nothing"
        assert left.std() < FLAT and abs(left.mean() - GREY) < FLAT, f"frame {number}: {left.std():.1f}"
        # The body is still there to learn from.
        assert picture.std() > 8
    _nothing_left_in(out / "film.mp4")
    assert made["sheets"] == [[0, 23], [24, 47], [48, 48]]
    assert sorted(path.name for path in out.glob("sheet-*")) == [
        "sheet-01.jpg",
        "sheet-02.jpg",
        "sheet-03.jpg",
    ]


def _nothing_left_in(path: Path) -> None:
    with av.open(str(path)) as film:
        assert [stream.type for stream in film.streams] == ["video"]
        assert set(film.metadata) <= {"major_brand", "minor_version", "compatible_brands", "encoder"}
        assert set(film.streams[0].metadata) <= {"language", "handler_name", "vendor_id", "encoder"}
    assert not any(word in path.read_bytes() for word in (b"Sam at", b"IMG_0042", b"+50.1"))


def test_a_frame_without_a_pose_is_covered_wholly(tmp_path: Path) -> None:
    source, truth = CLIPS / "fo_early.mp4", read_truth(CLIPS / "fo_early.json.gz")
    tracks = tracks_of_truth(truth)
    lost = [i for i, us in enumerate(tracks["t_us"]) if 1_200_000 <= us <= 1_600_000]
    for joints in tracks["joints"].values():
        for row in lost:
            joints[row] = None
    made = cover_to_dir(str(source), [tracks], SPAN_US, 1.0, str(tmp_path), lambda *_: None)
    times, pictures = frames_of(tmp_path / "film.mp4")
    # Farther than a tenth of a second from the last seen head nothing at all is shown.
    blind = [p for t, p in zip(times, pictures, strict=True) if 0.31 <= t <= 0.49]
    assert len(blind) >= 10 and all(picture.std() < FLAT for picture in blind)
    assert made["whole"] >= len(blind) and made["widened"] >= 8
    assert all(p.std() > 8 for t, p in zip(times, pictures, strict=True) if t < 0.15)


def tracks_of_truth(truth: dict[str, Any]) -> dict[str, Any]:
    from analysis.adapters.truth import truth_swing

    pose = truth_swing(truth)[0].pose
    shares = pose.xy / (pose.width, pose.height)
    joints = {name: [[*map(float, xy), 1.0] for xy in shares[:, k]] for k, name in enumerate(JOINTS)}
    return {"t_us": [round(t * 1e6) for t in pose.t_s], "joints": joints}


def test_a_person_beside_the_golfer_is_covered(tmp_path: Path) -> None:
    """Two rendered golfers in one picture; the one who is not measured disappears."""
    left, right = frames_of(CLIPS / "fo_early.mp4"), frames_of(CLIPS / "fo_left.mp4")
    truth, other = read_truth(CLIPS / "fo_early.json.gz"), read_truth(CLIPS / "fo_left.json.gz")
    both = tmp_path / "both.mp4"
    chosen = range(60, 84)
    # Cut close, so that the neighbour stands within reach of the club and is not just cut away.
    cut = 200
    with av.open(str(both), "w") as film:
        stream = film.add_stream("libx264", rate=60, options={"crf": "18", "bf": "0"})
        stream.width, stream.height, stream.pix_fmt = 2 * (720 - cut), 1280, "yuv420p"
        for number in chosen:
            picture = np.concatenate([left[1][number][:, : 720 - cut], right[1][number][:, cut:]], axis=1)
            film.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        film.mux(stream.encode(None))
    tracks = tracks_of_truth(truth)
    width = 2 * (720 - cut)
    joints = {
        name: [[row[0] * 720 / width, row[1], row[2]] for row in np.array(rows)[list(chosen)].tolist()]
        for name, rows in tracks["joints"].items()
    }
    moved = {"t_us": [round(i * 1e6 / 60) for i in range(len(chosen))], "joints": joints}
    out = tmp_path / "out"
    out.mkdir()
    made = cover_to_dir(str(both), [moved], (0, 400_000), 1.0, str(out), lambda *_: None)
    assert made["others"] == made["frames"]
    for number, picture in enumerate(frames_of(out / "film.mp4")[1]):
        x, y, radius = head_disc(other, chosen[number])
        face = disc_pixels(picture, (x - cut + 720 - cut, y, radius))
        assert face.std() < FLAT, f"frame {number}: the neighbour's head shows ({face.std():.1f})"


def test_a_swing_in_which_nobody_was_found_is_refused(tmp_path: Path) -> None:
    with pytest.raises(MediaError, match="too few frames"):
        cover_to_dir(str(CLIPS / "fo_early.mp4"), [], SPAN_US, 1.0, str(tmp_path), lambda *_: None)
    tracks = tracks_of_truth(read_truth(CLIPS / "fo_early.json.gz"))
    with pytest.raises(ValueError, match="margin"):
        cover_to_dir(str(CLIPS / "fo_early.mp4"), [tracks], SPAN_US, 0.5, str(tmp_path), lambda *_: None)
