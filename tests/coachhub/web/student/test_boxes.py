"""The browser's reading of MP4 headers against files of an independent writer (FFmpeg, through PyAV)."""

from __future__ import annotations

import json
import subprocess
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from coachhub.bootstrap import layout, scripts

pytestmark = pytest.mark.unit
READ = """
import { open } from "node:fs/promises";
import { readTrack, looksLikeVideo } from "%s";
const file = await open(process.argv[1]);
const { size } = await file.stat();
const read = async (start, end) => {
  const bytes = new ArrayBuffer(end - start);
  const { bytesRead } = await file.read(new Uint8Array(bytes), 0, end - start, start);
  return bytes.slice(0, bytesRead);
};
const track = await readTrack(read, size);
console.log(JSON.stringify({ track, isVideo: looksLikeVideo(await read(0, Math.min(12, size))) }));
await file.close();
"""


def read_header(path: Path) -> dict[str, Any]:
    module = (layout.ROOT / "coachhub/web/static/js/core/boxes.js").as_uri()
    command = [scripts.node() or "node", "--input-type=module", "-e", READ % module, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def write(path: Path, *, rate: int, frames: int, codec: str = "libx264", **options: str) -> None:
    with av.open(str(path), "w", options=options) as container:
        sound = container.add_stream("aac", rate=48000)
        stream = container.add_stream(codec, rate=rate, width=96, height=160, pix_fmt="yuv420p")
        for _ in range(frames):
            frame = av.VideoFrame.from_ndarray(np.zeros((160, 96, 3), np.uint8), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
        silence = av.AudioFrame.from_ndarray(np.zeros((2, 1024), np.float32), format="fltp", layout="stereo")
        silence.rate = 48000
        container.mux(sound.encode(silence))
        container.mux(sound.encode(None))


@pytest.mark.parametrize(("rate", "frames"), [(24, 30), (60, 150), (120, 200), (240, 480)])
@pytest.mark.parametrize("name", ["clip.mp4", "clip.mov"])
def test_count_rate_length_and_size(tmp_path: Path, name: str, rate: int, frames: int) -> None:
    write(tmp_path / name, rate=rate, frames=frames)
    found = read_header(tmp_path / name)
    track = found["track"]
    with av.open(str(tmp_path / name)) as container:
        theirs = container.streams.video[0]
        assert track["frames"] == theirs.frames == frames
        assert track["fps"] == pytest.approx(float(theirs.average_rate or Fraction(0)))
        assert track["durationS"] == pytest.approx(float(theirs.duration * theirs.time_base), abs=1 / rate)
    assert (track["width"], track["height"], track["codec"]) == (96, 160, "avc1")
    assert found["isVideo"] is True


def test_the_header_at_the_front_and_hevc(tmp_path: Path) -> None:
    write(tmp_path / "clip.mp4", rate=60, frames=20, codec="libx265", movflags="faststart")
    track = read_header(tmp_path / "clip.mp4")["track"]
    assert (track["frames"], track["codec"]) in {(20, "hev1"), (20, "hvc1")}


def test_a_fragmented_file_says_that_it_does_not_know(tmp_path: Path) -> None:
    write(tmp_path / "clip.mp4", rate=60, frames=20, movflags="frag_keyframe+empty_moov")
    track = read_header(tmp_path / "clip.mp4")["track"]
    assert (track["frames"], track["fps"]) == (None, None)


def test_webm_is_a_video_without_such_a_header(tmp_path: Path) -> None:
    with av.open(str(tmp_path / "clip.webm"), "w") as container:
        stream = container.add_stream("libvpx-vp9", rate=30, width=96, height=160, pix_fmt="yuv420p")
        container.mux(
            stream.encode(av.VideoFrame.from_ndarray(np.zeros((160, 96, 3), np.uint8), format="rgb24"))
        )
        container.mux(stream.encode(None))
    assert read_header(tmp_path / "clip.webm") == {"track": None, "isVideo": True}


def test_half_a_file_and_no_file_at_all(tmp_path: Path) -> None:
    write(tmp_path / "clip.mp4", rate=60, frames=60)
    whole = (tmp_path / "clip.mp4").read_bytes()
    (tmp_path / "half.mp4").write_bytes(whole[: len(whole) // 2])
    assert read_header(tmp_path / "half.mp4")["track"] is None
    (tmp_path / "words.mp4").write_text("just words, no film " * 10)
    assert read_header(tmp_path / "words.mp4") == {"track": None, "isVideo": False}
