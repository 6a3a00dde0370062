"""What an event sheet shows of a swing: frames, lines over them and words, all as plain values."""

from __future__ import annotations

from analysis.sheet.body import Body, body_at
from analysis.sheet.box import Box, golfer_box
from analysis.sheet.tiles import EVENT_TITLES, Tile, tiles_of

__all__ = ["EVENT_TITLES", "Body", "Box", "Tile", "body_at", "golfer_box", "tiles_of"]
