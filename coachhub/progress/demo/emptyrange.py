"""A clip with nobody in it, as when the camera was started and the golfer never walked in. Drawn, not filmed."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np

WIDTH, HEIGHT, FPS, FRAMES = 540, 960, 60, 120
SKY, TURF, MAT, BALL = (176, 203, 226), (92, 128, 70), (52, 88, 74), (238, 238, 232)


def make(path: Path) -> Path:
    """Write the clip: sky, turf, a mat with a ball, and the noise of a small sensor. The same bytes each time."""
    noise = np.random.default_rng(11)
    still = _scene()
    with av.open(str(path), "w", format="mp4", options={"movflags": "faststart"}) as out:
        stream = out.add_stream("libx264", rate=FPS, options={"crf": "26", "threads": "1"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.time_base = Fraction(1, FPS)
        for index in range(FRAMES):
            grain = noise.normal(0, 3, (HEIGHT, WIDTH, 1))
            frame = av.VideoFrame.from_ndarray(np.clip(still + grain, 0, 255).astype(np.uint8), "rgb24")
            frame.pts, frame.time_base = index, Fraction(1, FPS)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def _scene() -> np.ndarray:
    picture = np.zeros((HEIGHT, WIDTH, 3), dtype=np.float64)
    rows = np.arange(HEIGHT)[:, None]
    horizon = int(HEIGHT * 0.42)
    picture[:horizon] = SKY
    picture[:horizon] += (rows[:horizon] / horizon * 24)[..., None]
    picture[horizon:] = TURF
    picture[horizon:] -= ((HEIGHT - rows[horizon:]) / HEIGHT * 30)[..., None]
    picture[int(HEIGHT * 0.78) : int(HEIGHT * 0.92), int(WIDTH * 0.2) : int(WIDTH * 0.8)] = MAT
    y, x = np.ogrid[:HEIGHT, :WIDTH]
    picture[(y - HEIGHT * 0.84) ** 2 + (x - WIDTH * 0.5) ** 2 < 6**2] = BALL
    return picture
