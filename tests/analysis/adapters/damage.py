"""Damaged clips, made anew from small whole ones: the same number always gives the same bytes."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from pathlib import Path

from tests.analysis.adapters.footage import film

Bytes = bytearray
# Boxes whose numbers decide how much is read or kept (ISO/IEC 14496-12): duration, size, counts, tables.
BOXES = (
    b"mvhd",
    b"tkhd",
    b"mdhd",
    b"stsd",
    b"stts",
    b"stsz",
    b"stsc",
    b"stco",
    b"ctts",
    b"elst",
    b"avcC",
    b"hvcC",
)
HUGE = (0xFFFFFFFF, 0x7FFFFFFF, 0x80000000, 0x00FFFFFF, 0)


def whole_clips(folder: Path) -> list[bytes]:
    """Half a second of H.264, HEVC and VP9, each a few kilobytes, one of them with sound."""
    common = {"size": (96, 128), "frames": 30}
    paths = [
        film(folder / "a.mp4", tone_hz=440.0, **common),  # type: ignore[arg-type]
        film(folder / "b.mov", codec="libx265", **common),  # type: ignore[arg-type]
        film(folder / "c.webm", codec="libvpx-vp9", **common),  # type: ignore[arg-type]
    ]
    return [path.read_bytes() for path in paths]


def damaged(number: int, clips: list[bytes]) -> tuple[str, bytes]:
    """The kind and the bytes of damaged clip ``number``.

    Parameters
    ----------
    number : int
        From 0; kinds and clips take turns.
    clips : list of bytes
        From `whole_clips`.
    """
    dice = random.Random(f"clip {number}")
    kind = list(KINDS)[number % len(KINDS)]
    data = bytearray(clips[(number // len(KINDS)) % len(clips)])
    return kind, bytes(KINDS[kind](data, dice, clips))


def _truncated(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    return data[: dice.randrange(1, len(data))]


def _flipped_bits(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    for _ in range(dice.choice((1, 3, 10, 100))):
        data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    return data


def _overwritten(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    start, length = dice.randrange(len(data)), dice.choice((4, 64, 1024))
    end = min(len(data), start + length)
    data[start:end] = dice.randbytes(end - start) if dice.random() < 0.5 else bytes(end - start)
    return data


def _wrong_header(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    """One container's first bytes before another one's body."""
    other = dice.choice(clips)
    cut = dice.choice((12, 32, 64))
    return bytearray(other[:cut]) + data[cut:]


def _no_header(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    return data[dice.choice((1, 8, 40)) :]


def _empty(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    return data[: dice.choice((0, 0, 1, 8))]


def _huge_numbers(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    """A box's length, count, duration or picture size set to something absurd."""
    places = [at for name in BOXES for at in _places(bytes(data), name)]
    if not places:
        return _huge_lengths(data, dice, clips)
    for _ in range(dice.choice((1, 2, 4))):
        at = dice.choice(places) + dice.choice((-4, 4, 8, 12, 16, 20, 24, 28, 32, 80, 84))
        if 0 <= at <= len(data) - 4:
            data[at : at + 4] = struct.pack(">I", dice.choice(HUGE))
    return data


def _places(data: bytes, name: bytes) -> list[int]:
    found, at = [], data.find(name)
    while at >= 0:
        found.append(at)
        at = data.find(name, at + 1)
    return found


def _huge_lengths(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    """Matroska elements of eight bytes' length in the first part of the file (RFC 8794, 4)."""
    at = dice.randrange(4, min(400, len(data) - 9))
    data[at : at + 8] = b"\x01" + dice.choice((b"\xff", b"\x7f", b"\x00")) * 7
    return data


def _repeated(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    """A part comes again and again."""
    start = dice.randrange(len(data) - 64)
    part = data[start : start + dice.choice((16, 64, 512))]
    return data[:start] + part * dice.choice((2, 50, 400)) + data[start:]


def _left_out(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    start = dice.randrange(len(data) - 64)
    del data[start : start + dice.choice((1, 7, 64, 2000))]
    return data


def _noise_inside(data: Bytes, dice: random.Random, clips: list[bytes]) -> Bytes:
    """A right beginning, then noise."""
    keep = dice.choice((12, 48, 300))
    return data[:keep] + bytearray(dice.randbytes(dice.choice((100, 4000))))


KINDS: dict[str, Callable[[Bytes, random.Random, list[bytes]], Bytes]] = {
    "truncated": _truncated,
    "flipped_bits": _flipped_bits,
    "overwritten": _overwritten,
    "wrong_header": _wrong_header,
    "no_header": _no_header,
    "empty": _empty,
    "huge_numbers": _huge_numbers,
    "huge_lengths": _huge_lengths,
    "repeated": _repeated,
    "left_out": _left_out,
    "noise_inside": _noise_inside,
}
