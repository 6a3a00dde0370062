"""Making a clip worse on purpose: what phones, light, hands, nets and bystanders do to a picture.

Each spoiler takes and gives a `Reel`: pictures, their times, and for each picture the affine map from the
original picture's pixels, so that known points can follow. The same seed gives the same clip.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from av.video.stream import VideoStream
from numpy.typing import NDArray

from analysis.adapters.video import decode
from analysis.types import Floats

Pictures = NDArray[np.uint8]
_TICK = Fraction(1, 90_000)
_SEED = 20261125


@dataclass(frozen=True)
class Reel:
    """A decoded clip.

    ``pictures`` (T, H, W, 3) RGB; ``t_s`` (T,); ``moved`` (T, 2, 3) maps original pixels to these; ``crf`` the
    H.264 quality to write it with, 0..51; ``kept`` (T,) indices of the original's frames.
    """

    pictures: Pictures
    t_s: Floats
    moved: Floats
    kept: NDArray[np.int64]
    crf: int = 18


Spoiler = Callable[[Reel], Reel]


def read_reel(path: Path) -> Reel:
    """Every picture of a short clip.

    Raises
    ------
    ValueError
        If it holds no picture.
    """
    found = [(frame.t_s, frame.rgb) for frame in decode(path)]
    if not found:
        raise ValueError(f"path must hold pictures, got {path.name}")
    count = len(found)
    return Reel(
        np.stack([picture for _, picture in found]),
        np.array([t for t, _ in found]),
        np.tile(np.array([[1.0, 0, 0], [0, 1.0, 0]]), (count, 1, 1)),
        np.arange(count),
    )


def write_reel(reel: Reel, path: Path) -> None:
    """H.264 in MP4, each picture at its own time; silent."""
    height, width = reel.pictures.shape[1:3]
    with av.open(str(path), "w", format="mp4") as out:
        rate = round((len(reel.t_s) - 1) / (reel.t_s[-1] - reel.t_s[0]))
        stream = out.add_stream("libx264", rate=rate)
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = width - width % 2, height - height % 2, "yuv420p"
        stream.codec_context.time_base = _TICK
        stream.options = {"preset": "veryfast", "crf": str(reel.crf), "threads": "1"}
        for t_s, picture in zip(reel.t_s, reel.pictures, strict=True):
            inside = np.ascontiguousarray(picture[: stream.height, : stream.width])
            frame = av.VideoFrame.from_ndarray(inside, format="rgb24")
            frame.pts, frame.time_base = round(t_s / _TICK), _TICK
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def compressed(crf: int) -> Spoiler:
    """H.264 at a constant rate factor of 0..51; 23 is usual."""
    return lambda reel: replace(reel, crf=crf)


def darkened(light: float, noise: float) -> Spoiler:
    """``light`` 0..1 of the brightness with sensor noise of ``noise`` grey levels."""

    def spoil(reel: Reel) -> Reel:
        random = np.random.default_rng(_SEED)
        out = np.empty_like(reel.pictures)
        for i, picture in enumerate(reel.pictures):
            grain = random.standard_normal(picture.shape, dtype=np.float32) * noise
            out[i] = np.clip(picture * light + grain, 0, 255).astype(np.uint8)
        return replace(reel, pictures=out)

    return spoil


def blurred(share: float) -> Spoiler:
    """Out of focus: a Gaussian of ``share`` of the picture's height."""

    def spoil(reel: Reel) -> Reel:
        sigma = share * reel.pictures.shape[1]
        return replace(reel, pictures=np.stack([cv2.GaussianBlur(p, (0, 0), sigma) for p in reel.pictures]))

    return spoil


def smaller(short_edge: int) -> Spoiler:
    """Scaled to ``short_edge`` pixels."""

    def spoil(reel: Reel) -> Reel:
        height, width = reel.pictures.shape[1:3]
        scale = short_edge / min(height, width)
        size = (2 * round(width * scale / 2), 2 * round(height * scale / 2))
        pictures = np.stack([cv2.resize(p, size, interpolation=cv2.INTER_AREA) for p in reel.pictures])
        grow = np.array([[size[0] / width], [size[1] / height]])
        return replace(reel, pictures=pictures.astype(np.uint8), moved=reel.moved * grow)

    return spoil


def slower(every: int) -> Spoiler:
    """Only each ``every``-th picture: a lower frame rate with the shutter as it was."""

    def spoil(reel: Reel) -> Reel:
        return replace(
            reel,
            pictures=reel.pictures[::every],
            t_s=reel.t_s[::every],
            moved=reel.moved[::every],
            kept=reel.kept[::every],
        )

    return spoil


def shaken(share: float, degrees: float) -> Spoiler:
    """Hand-held: a wander of ``share`` of the height and ``degrees`` of roll (standard deviations), below 3 Hz."""

    def spoil(reel: Reel) -> Reel:
        height, width = reel.pictures.shape[1:3]
        wander = _wander(reel.t_s, 3)
        moved, pictures = np.empty_like(reel.moved), np.empty_like(reel.pictures)
        for i, (dx, dy, turn) in enumerate(wander):
            matrix = cv2.getRotationMatrix2D((width / 2, height / 2), turn * degrees, 1.0)
            matrix[:, 2] += share * height * np.array([dx, dy])
            pictures[i] = cv2.warpAffine(
                reel.pictures[i], matrix, (width, height), borderMode=cv2.BORDER_REPLICATE
            )
            moved[i] = matrix @ np.vstack([reel.moved[i], [0, 0, 1]])
        return replace(reel, pictures=pictures, moved=moved)

    return spoil


def _wander(t_s: Floats, tracks: int) -> Floats:
    """Smooth random walks (T, tracks) with standard deviation 1: sines of 0.3 to 3 Hz with falling size."""
    random = np.random.default_rng(_SEED)
    rates = np.linspace(0.3, 3.0, 10)
    phase = random.uniform(0, 2 * np.pi, (tracks, len(rates)))
    waves = np.sin(2 * np.pi * rates * t_s[:, None, None] + phase) / rates
    out = waves.sum(axis=2)
    return np.asarray(out / np.sqrt((0.5 / rates**2).sum()))


def behind_net(spacing: float, cover: float) -> Spoiler:
    """A net in front: crossing lines ``spacing`` of the height apart that cover ``cover`` 0..1 of what is behind."""

    def spoil(reel: Reel) -> Reel:
        height, width = reel.pictures.shape[1:3]
        net = np.zeros((height, width), np.uint8)
        step = spacing * height
        for k in np.arange(-height, width + height, step):
            x = round(float(k))
            cv2.line(net, (x, 0), (x + height, height), 255, 2, cv2.LINE_AA)
            cv2.line(net, (x + height, 0), (x, height), 255, 2, cv2.LINE_AA)
        share = (cover * net / 255.0)[:, :, None].astype(np.float32)
        pictures = np.empty_like(reel.pictures)
        for i, picture in enumerate(reel.pictures):
            pictures[i] = (picture * (1 - share) + 45 * share).astype(np.uint8)
        return replace(reel, pictures=pictures)

    return spoil


def beside(person: Reel, outline: Sequence[Floats], scale: float, moving: bool) -> Spoiler:
    """Somebody else in the picture, at its left edge.

    Parameters
    ----------
    person : Reel
        Where the bystander is taken from.
    outline : sequence of (N, 2) arrays
        For each of its pictures the points that the person's outline must hold, pixels.
    scale : float
        Size against the original.
    moving : bool
        Whether the bystander swings too, or stands as in the first picture.
    """

    def spoil(reel: Reel) -> Reel:
        pictures = reel.pictures.copy()
        for i in range(len(pictures)):
            j = i % len(person.pictures) if moving else 0
            _paste(pictures[i], person.pictures[j], outline[j], scale)
        return replace(reel, pictures=pictures)

    return spoil


def _paste(picture: Pictures, other: Pictures, points: Floats, scale: float) -> None:
    """Put the outlined part of ``other`` into ``picture`` in place: feet on one line, the middle at the left."""
    height, width = picture.shape[:2]
    reach = 0.03 * other.shape[0]
    drawn = np.zeros(other.shape[:2], np.float32)
    hull = cv2.convexHull(points.astype(np.float32)).astype(np.int32)
    cv2.fillConvexPoly(drawn, hull, 1.0)
    wide = cv2.dilate(drawn, np.ones((int(2 * reach), int(2 * reach)), np.uint8))
    mask = cv2.GaussianBlur(wide, (0, 0), reach / 3)
    feet = points[:, 1].max()
    middle = float(np.median(points[:, 0]))
    shift = np.array([[scale, 0, 0.14 * width - scale * middle], [0, scale, feet - scale * feet]])
    moved_mask = cv2.warpAffine(mask, shift, (width, height))[..., None]
    moved = cv2.warpAffine(other, shift, (width, height))
    picture[:] = (picture * (1 - moved_mask) + moved * moved_mask).astype(np.uint8)
