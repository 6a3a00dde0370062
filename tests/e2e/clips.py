"""Test clips with the frame number burnt in, so that the picture itself says which frame is on screen."""

from __future__ import annotations

import json
import tempfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from numpy.typing import NDArray

from analysis.adapters.rendition import render_to_dir
from coachhub.swings.models import AnalysisRun, Swing
from coachhub.videos.models import Clip

WIDTH, HEIGHT = 360, 640
BITS, BLOCK = 11, 32
RATE_HZ = 48_000
# Reads the number back from what a player shows now: the canvas of decoded frames, else the video behind it.
READ_NUMBER = f"""player => {{
  const shown = player.querySelector("canvas:not([hidden])") ?? player.querySelector("video");
  const canvas = new OffscreenCanvas({WIDTH}, {HEIGHT});
  const paper = canvas.getContext("2d", {{willReadFrequently: true}});
  paper.drawImage(shown, 0, 0, {WIDTH}, {HEIGHT});
  let number = 0;
  for (let bit = 0; bit < {BITS}; bit += 1) {{
    const [red] = paper.getImageData(bit * {BLOCK} + {BLOCK // 2}, {BLOCK // 2}, 1, 1).data;
    if (red > 128) number += 2 ** bit;
  }}
  return number;
}}"""


def numbered_times(count: int, *, variable: bool, fps: int = 60) -> list[int]:
    """Presentation times in ticks of 1/90000 s: so many a second, or with steps of 8 to 50 ms."""
    if not variable:
        return [i * 90_000 // fps for i in range(count)]
    steps = np.random.default_rng(4).integers(720, 4500, count - 1)
    return [0, *np.cumsum(steps).tolist()]


def numbered_clip(
    path: Path,
    *,
    count: int = 150,
    variable: bool = False,
    fps: int = 60,
    scale: int = 1,
    click_s: float | None = None,
) -> None:
    fast = {"preset": "ultrafast"}
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=fps, options=fast)
        stream.width, stream.height, stream.pix_fmt = scale * WIDTH, scale * HEIGHT, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, 90000)
        if click_s is not None:
            _add_click(container, click_s, count / fps)
        for number, pts in enumerate(numbered_times(count, variable=variable, fps=fps)):
            frame = av.VideoFrame.from_ndarray(_picture(number, count, scale), format="rgb24")
            frame.pts, frame.time_base = pts, Fraction(1, 90000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def _add_click(container: Any, at_s: float, length_s: float) -> None:
    """Quiet noise with one click in it."""
    sound = np.random.default_rng(1).normal(0, 0.01, round(length_s * RATE_HZ))
    sound[round(at_s * RATE_HZ) :][: RATE_HZ // 100] = 0.9
    stream = container.add_stream("aac", rate=RATE_HZ, layout="mono")
    frame = av.AudioFrame.from_ndarray(sound.astype(np.float32)[None], format="fltp", layout="mono")
    frame.sample_rate, frame.pts, frame.time_base = RATE_HZ, 0, Fraction(1, RATE_HZ)
    fifo = av.AudioFifo()
    fifo.write(frame)
    while piece := fifo.read(1024, partial=True):
        container.mux(stream.encode(piece))
    container.mux(stream.encode(None))


def _picture(number: int, count: int, scale: int) -> NDArray[np.uint8]:
    picture = np.full((HEIGHT, WIDTH, 3), (70, 110, 70), dtype=np.uint8)
    picture[: HEIGHT // 3] = (130, 160, 190)
    for bit in range(BITS):
        picture[:BLOCK, bit * BLOCK : (bit + 1) * BLOCK] = 255 * (number >> bit & 1)
    x = round((WIDTH - 40) * number / count)
    picture[400:440, x : x + 40] = (250, 250, 240)
    return picture.repeat(scale, axis=0).repeat(scale, axis=1)


def give_picture(clip: Clip, **picture: Any) -> list[int]:
    """Make the clip playable, as the workers do; returns its frame times in microseconds."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source = folder / "source.mp4"
        numbered_clip(source, **picture)
        render_to_dir(str(source), name, lambda stage, percent: None)
        index = json.loads((folder / "index.json").read_text())
        for field, file in (
            ("rendition_key", "rendition.mp4"),
            ("poster_key", "poster.jpg"),
            ("index_key", "index.json"),
        ):
            key = default_storage.save(
                f"clips/{clip.public_id}/{file}", ContentFile((folder / file).read_bytes())
            )
            setattr(clip, field, key)
    clip.width, clip.height, clip.duration_s = index["width"], index["height"], index["end_us"] / 1e6
    clip.save()
    times: list[int] = index["times_us"]
    return times


def give_tracks(swing: Swing, times_us: list[int]) -> None:
    """Body and shaft lines of a stick figure whose hands go round."""
    joints: dict[str, list[list[float]]] = {name: [] for name in _STILL}
    shaft = []
    for i in range(len(times_us)):
        turn = 2 * np.pi * i / len(times_us)
        hands = [0.5 + 0.18 * np.sin(turn), 0.45 + 0.1 * np.cos(turn)]
        for name, point in _STILL.items():
            joints[name].append([*(hands if "wrist" in name else point), 0.9])
        shaft.append([*hands, hands[0] + 0.25 * np.sin(turn), hands[1] + 0.25 * np.cos(turn), 0.95])
    entry: dict[str, Any] = {"t_us": times_us, "joints": joints, "shaft": shaft}
    run = AnalysisRun.objects.get(readouts__swing=swing)
    run.result_key = f"results/{swing.public_id}"
    run.save(update_fields=["result_key"])
    default_storage.save(
        f"{run.result_key}/tracks.json", ContentFile(json.dumps({"swings": [entry]}).encode())
    )


_STILL = {
    f"{side}_{joint}": [0.5 + sign * dx, y]
    for side, sign in (("left", 1), ("right", -1))
    for joint, dx, y in (
        ("shoulder", 0.09, 0.3),
        ("elbow", 0.12, 0.4),
        ("wrist", 0.02, 0.5),
        ("hip", 0.06, 0.52),
        ("knee", 0.07, 0.68),
        ("ankle", 0.08, 0.84),
        ("foot_index", 0.12, 0.86),
    )
}
