"""Clips that hold no swing, or more than one: refused or split with the right reason."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class Refusal:
    """One clip: what was asked for, what came of it, and whether that is right."""

    name: str
    wanted: str
    found: str
    right: bool


def expectation_of(clip: Path) -> Path | None:
    """``NAME.expect.json`` beside a clip: ``{"swings": 0, "codes": ["no_swing", "no_golfer"]}``."""
    beside = clip.with_name(f"{clip.stem}.expect.json")
    return beside if beside.is_file() else None


def read_expectation(path: Path) -> dict[str, Any]:
    """How many swings the clip holds and which problem codes would be right; no code: any, or none.

    Raises
    ------
    ValueError
        If the file is not of this kind.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        swings, codes = int(data["swings"]), [str(code) for code in data.get("codes", [])]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ValueError(f"{path.name} must hold 'swings' and may hold 'codes': {error!r}") from error
    return {"swings": swings, "codes": codes}


def judge_refusal(name: str, wanted: Mapping[str, Any], swings: int, codes: tuple[str, ...]) -> Refusal:
    """Compare what was found with what the clip holds.

    Parameters
    ----------
    name : str
    wanted : mapping
        From ``read_expectation``.
    swings : int
        Usable swings that were measured.
    codes : tuple of str
        Codes of all problems, or of the error that refused the file.
    """
    fits = not wanted["codes"] or bool(set(codes) & set(wanted["codes"]))
    asked = f"{wanted['swings']} swings" + (f", {' or '.join(wanted['codes'])}" if wanted["codes"] else "")
    got = f"{swings} swings" + (f", {', '.join(codes)}" if codes else "")
    return Refusal(name, asked, got, fits and swings == wanted["swings"])
