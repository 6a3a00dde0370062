from __future__ import annotations

from coachhub.common.wording import say


class RuleBroken(ValueError):
    """Something a person asked for can't be done. ``code`` is for machines, the sentence for the person."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code
        self.in_english = sentence

    @property
    def sentence(self) -> str:
        """In the language of whoever it is shown to."""
        return say(self.in_english)


class Stale(RuleBroken):
    """Somebody else changed the thing since the caller read it."""

    def __init__(self, sentence: str = "This was changed elsewhere in the meantime. Load it again.") -> None:
        super().__init__("stale", sentence)
