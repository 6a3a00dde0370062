from __future__ import annotations

import base64
import json
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest

from analysis.adapters.media import MediaError
from analysis.adapters.rendition import check_clip, render_to_dir
from analysis.adapters.sandbox import Limits, run_limited
from analysis.adapters.video import decode, frame_times
from tests.analysis.adapters import footage

pytestmark = pytest.mark.unit


def quiet(stage: str, percent: float) -> None:
    return None


def render(source: Path, folder: Path) -> tuple[Path, dict[str, Any]]:
    folder.mkdir(exist_ok=True)
    render_to_dir(str(source), str(folder), quiet)
    return folder / "rendition.mp4", json.loads((folder / "index.json").read_text())


@pytest.fixture(scope="module")
def uneven(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[float], Path, dict[str, Any]]:
    """A turned clip of uneven rate with sound, and its rendition."""
    folder = tmp_path_factory.mktemp("uneven")
    steps = np.where(np.arange(74) % 5 == 2, 1 / 30, 1 / 120)
    times_s = [0.0, *np.cumsum(steps).tolist()]
    source = footage.film(
        folder / "a.mp4", times_s=times_s, turn_deg=-90, tone_hz=880.0, codec="libx265", pixels="yuv420p10le"
    )
    path, index = render(source, folder / "out")
    return times_s, path, index


def test_every_frame_is_there_at_its_time(uneven: tuple[list[float], Path, dict[str, Any]]) -> None:
    times_s, path, index = uneven
    np.testing.assert_allclose(np.array(index["times_us"]) / 1e6, times_s, atol=1.3e-5)
    # The container's own times differ by at most one tick of 1/90000 s.
    np.testing.assert_allclose(frame_times(path), times_s, atol=2.4e-5)
    upright = [np.rot90(frame.rgb) for frame in decode(path)]
    assert [footage.number_in(picture) for picture in upright] == list(range(75))
    assert index["end_us"] > index["times_us"][-1]


def test_the_turn_is_baked_in(uneven: tuple[list[float], Path, dict[str, Any]]) -> None:
    _, path, index = uneven
    assert (index["width"], index["height"]) == (240, 320)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        picture = next(container.decode(stream))
        assert (picture.rotation, picture.width, picture.height) == (0, 240, 320)
        assert (picture.colorspace, picture.color_trc, picture.color_primaries) == (1, 1, 1)


def test_form_of_the_stream(uneven: tuple[list[float], Path, dict[str, Any]]) -> None:
    _, path, index = uneven
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        assert (stream.codec_context.name, stream.profile, stream.pix_fmt) == ("h264", "High", "yuv420p")
        assert not stream.codec_context.has_b_frames
        packets = [p for p in container.demux(stream) if p.size]
    assert index["keys"] == list(range(0, 75, 10)) == [k for k, p in enumerate(packets) if p.is_keyframe]
    assert [p.pts for p in packets] == [p.dts for p in packets]
    boxes = box_names(path)
    assert boxes.index("moov") < boxes.index("mdat"), "the table of contents comes first"


def box_names(path: Path) -> list[str]:
    """Top-level boxes: ISO/IEC 14496-12, 4.2."""
    data, at, names = path.read_bytes(), 0, []
    while at < len(data):
        names.append(data[at + 4 : at + 8].decode())
        at += int.from_bytes(data[at : at + 4], "big")
    return names


def test_the_index_is_enough_to_decode_without_a_demuxer(
    uneven: tuple[list[float], Path, dict[str, Any]],
) -> None:
    """Bytes by the index, fed to a bare decoder with the description, as a browser's decoder gets them."""
    _, path, index = uneven
    data, description = path.read_bytes(), base64.b64decode(index["description"])
    # ISO/IEC 14496-15, 5.3.3.1: configurationVersion, profile, compatibility, level; RFC 6381 for the codec string.
    assert description[0] == 1
    assert index["codec"] == "avc1." + description[1:4].hex()
    assert index["codec"].startswith("avc1.64")
    decoder = av.CodecContext.create("h264", "r")
    decoder.extradata = description
    pictures = []
    for offset, size in zip(index["offsets"], index["sizes"], strict=True):
        pictures += decoder.decode(av.Packet(data[offset : offset + size]))
    pictures += decoder.decode(None)
    numbers = [footage.number_in(np.rot90(picture.to_ndarray(format="rgb24"))) for picture in pictures]
    assert numbers == list(range(75))


def test_sound_and_its_outline(uneven: tuple[list[float], Path, dict[str, Any]]) -> None:
    times_s, path, index = uneven
    with av.open(str(path)) as container:
        assert container.streams.audio[0].codec_context.name == "aac"
    lows, highs = np.array(index["sound"]["peaks"]).T
    assert index["sound"]["step_us"] == pytest.approx(10_000, rel=0.1)
    assert np.median(highs) == pytest.approx(0.5, abs=0.06)
    assert np.median(lows) == pytest.approx(-0.5, abs=0.06)
    assert len(lows) * index["sound"]["step_us"] / 1e6 == pytest.approx(times_s[-1], abs=0.1)


def test_poster(uneven: tuple[list[float], Path, dict[str, Any]]) -> None:
    poster = cv2.imread(str(uneven[1].with_name("poster.jpg")))
    assert poster.shape == (320, 240, 3)
    # The red corner of the stored picture is turned to the top left; OpenCV keeps blue first.
    assert poster[8, 8, 2] > 150 > 90 > poster[8, 8, 1]


def test_large_pictures_shrink_and_silence_stays_silent(tmp_path: Path) -> None:
    path, index = render(footage.film(tmp_path / "a.mp4", size=(1920, 1080), frames=30), tmp_path / "out")
    assert (index["width"], index["height"]) == (1280, 720)
    assert index["sound"] is None
    assert len(list(decode(path))) == 30


def test_240_frames_a_second_stay(tmp_path: Path) -> None:
    path, index = render(footage.film(tmp_path / "a.mov", fps=240, frames=240), tmp_path / "out")
    assert len(index["times_us"]) == 240
    np.testing.assert_allclose(np.diff(frame_times(path)), 1 / 240, atol=1.2e-5)


def test_odd_sizes_become_even(tmp_path: Path) -> None:
    source = footage.film(tmp_path / "a.webm", codec="libvpx-vp9", size=(321, 241))
    _, index = render(source, tmp_path / "out")
    assert (index["width"], index["height"]) == (320, 240)


def test_the_check_is_quick_and_refuses(tmp_path: Path) -> None:
    found = check_clip(str(footage.film(tmp_path / "a.mp4")), quiet)
    assert (found["frame_count"], found["codec"], found["nominal_fps"]) == (60, "h264", pytest.approx(60))
    with pytest.raises(MediaError) as caught:
        check_clip(str(footage.film(tmp_path / "b.mp4", frames=1)), quiet)
    assert caught.value.code == "one_frame"


def test_under_limits_in_the_child(tmp_path: Path) -> None:
    heard: list[str] = []
    found = run_limited(
        "analysis.adapters.rendition:render_to_dir",
        {"path": str(footage.film(tmp_path / "a.mp4", size=(1080, 1920))), "out_dir": str(tmp_path)},
        limits=Limits(cpu_s=60, memory_bytes=1500 << 20, file_bytes=100 << 20, wall_s=60, nice=5),
        on_progress=lambda stage, percent: heard.append(stage),
    )
    assert (found["width"], found["height"]) == (720, 1280)
    assert heard[-1] == "done"
    assert (tmp_path / "rendition.mp4").stat().st_size > 1000


def test_scrambled_pictures_are_refused(tmp_path: Path) -> None:
    path = footage.film(tmp_path / "a.mp4", frames=120, g="1")
    with av.open(str(path)) as container:
        places = [(entry.pos, entry.size) for entry in container.streams.video[0].index_entries]
    content = bytearray(path.read_bytes())
    for place, size in places[20:100]:
        content[place + 4 : place + size] = bytes(size - 4)
    path.write_bytes(content)
    with pytest.raises(MediaError) as caught:
        render_to_dir(str(path), str(tmp_path), quiet)
    assert caught.value.code == "damaged"
