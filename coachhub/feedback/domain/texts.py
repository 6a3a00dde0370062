from __future__ import annotations

from typing import Any

from coachhub.common.domain.errors import RuleBroken


def text_for(model: Any, name: str, value: object, *, label: str) -> str:
    """A text that fits the column, or a sentence."""
    text = str(value or "").replace("\x00", "").strip()
    most = model._meta.get_field(name).max_length
    if most and len(text) > most:
        raise RuleBroken(
            "too_long",
            f"“{label.capitalize()}” can have {most} characters; yours has {len(text)}. Shorten it.",
        )
    return text
