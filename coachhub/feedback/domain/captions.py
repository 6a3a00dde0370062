"""Words of a recording as WebVTT (W3C, WebVTT: The Web Video Text Tracks Format)."""

from __future__ import annotations

import re

LONGEST_CUE = 90
_SENTENCE = re.compile(r"(?<=[.!?…])\s+|\n+")


def as_webvtt(words: str, duration_ms: int) -> str:
    """Cues that share the sound's length by their length: nobody timed the words, and a reader needs a beginning."""
    cues = cues_of(words)
    total = sum(map(len, cues)) or 1
    lines, begun = ["WEBVTT", ""], 0
    for cue in cues:
        start, begun = begun, begun + len(cue)
        lines += [
            f"{_time(duration_ms * start / total)} --> {_time(duration_ms * begun / total)}",
            _plain(cue),
            "",
        ]
    return "\n".join(lines)


def cues_of(words: str) -> list[str]:
    """Sentences, long ones broken at words."""
    cues: list[str] = []
    for sentence in _SENTENCE.split(words.strip()):
        line = ""
        for word in sentence.split():
            if line and len(line) + 1 + len(word) > LONGEST_CUE:
                cues.append(line)
                line = word
            else:
                line = f"{line} {word}".strip()
        if line:
            cues.append(line)
    return cues


def _plain(text: str) -> str:
    return text.replace("-->", "→").replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _time(ms: float) -> str:
    whole = round(ms)
    return f"{whole // 3_600_000:02}:{whole // 60_000 % 60:02}:{whole // 1000 % 60:02}.{whole % 1000:03}"
