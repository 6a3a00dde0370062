"""One shaft track from two witnesses: the network, and the search among lines."""

from __future__ import annotations

import numpy as np

from analysis.geometry import wrap_deg
from analysis.types import ClubTrack

ANSWERED = 0.5
UNSURE = 0.8
AGREE_DEG = 6.0
AROUND = 2


def frames_to_check(confidence: np.ndarray) -> np.ndarray:
    """Frames (K,) in which the lines are looked at: those the network is unsure of, and two around each."""
    unsure = confidence < UNSURE
    wide = np.convolve(unsure, np.ones(2 * AROUND + 1), mode="same") > 0
    return np.asarray(wide[: len(unsure)])


def combined(network: ClubTrack, lines: ClubTrack) -> ClubTrack:
    """The network's track with the lines' answers where it is silent and they are sure.

    Where the network answers, it stays: on the rendered bench it was right in every one of the frames in which
    the two were sure of different things. Where both say the same, the surer one's confidence counts.

    Parameters
    ----------
    network : ClubTrack
    lines : ClubTrack
        A part of the same frames, ``t_s`` taken from ``network.t_s``.

    Returns
    -------
    ClubTrack
        ``by_lines`` marks what the lines answered.

    Raises
    ------
    ValueError
        If ``lines`` has a time the network does not have.
    """
    at = np.searchsorted(network.t_s, lines.t_s)
    if lines.t_s.size and (at.max() >= network.t_s.size or not np.array_equal(network.t_s[at], lines.t_s)):
        raise ValueError("lines must hold a part of the network's frames, got other times")
    apart = np.abs(wrap_deg(lines.deg - network.deg[at]))
    silent = network.confidence[at] < ANSWERED
    take = silent & (lines.confidence >= ANSWERED)
    out = {
        name: getattr(network, name).copy()
        for name in ("deg", "confidence", "grip_xy", "head_xy", "head_confidence")
    }
    for name, values in out.items():
        values[at[take]] = getattr(lines, name)[take]
    same = ~silent & (apart < AGREE_DEG)
    out["confidence"][at[same]] = np.maximum(out["confidence"][at[same]], lines.confidence[same])
    by_lines = np.zeros(network.t_s.size, bool)
    by_lines[at[take]] = True
    return ClubTrack(network.t_s, by_lines=by_lines, **out)


def source_shares(club: ClubTrack) -> dict[str, float]:
    """Shares of the frames answered by the network and by the lines, and of those left unanswered."""
    if not club.t_s.size:
        return {"network": 0.0, "lines": 0.0, "unseen": 1.0}
    answered = club.confidence >= ANSWERED
    lines = answered & club.from_lines
    return {
        "network": float((answered & ~lines).mean()),
        "lines": float(lines.mean()),
        "unseen": float((~answered).mean()),
    }
