"""Which frames count as answered, and who answered them."""

from __future__ import annotations

from analysis.types import ClubTrack

ANSWERED = 0.5


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
