"""Which job tables the sweep looks after. Apps add theirs in ``AppConfig.ready``."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

_sweepers: dict[str, Callable[[datetime], int]] = {}


def register(name: str, sweeper: Callable[[datetime], int]) -> None:
    _sweepers[name] = sweeper


def sweep(*, now: datetime) -> dict[str, int]:
    """Run each sweeper; returns how many rows each sent again."""
    return {name: sweeper(now) for name, sweeper in _sweepers.items()}
