"""The sentences of the browser modules: found in their source, and brought to a page as one small script a language.

English is in the modules themselves, so an English page loads nothing. The address holds the content's digest: it is
kept by browsers for good, and a new catalogue has a new one.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.urls import reverse
from django.utils import translation

from coachhub.common.wording import SOURCE

FOLDER = Path("coachhub", "web", "static", "js")
COMMENT = re.compile(r"^\s*(//|/?\*).*$", re.MULTILINE)
SAID = re.compile(r'(?<![.\w])say\(\s*("(?:[^"\\]|\\.)*")')


def spoken(root: Path) -> Iterator[tuple[str, str]]:
    """Each sentence that a module says, and the module's place below ``root``."""
    for part in ("core", "behaviours", "pages"):
        for path in sorted((root / FOLDER / part).rglob("*.js")):
            source = COMMENT.sub("", path.read_text(encoding="utf-8"))
            for found in SAID.finditer(source):
                yield json.loads(found[1]), path.relative_to(root).as_posix()


@lru_cache(maxsize=8)
def script(code: str) -> str:
    """What the modules' lookup (js/core/wording.js) reads."""
    with translation.override(code):
        said = {key: translation.gettext(key) for key, _ in spoken(Path(settings.BASE_DIR))}
    known = {"language": code, "said": {key: words for key, words in said.items() if words != key}}
    return f"globalThis.SITE_WORDS = {json.dumps(known, ensure_ascii=False, sort_keys=True)};\n"


@lru_cache(maxsize=8)
def digest(code: str) -> str:
    return hashlib.sha256(script(code).encode()).hexdigest()[:16]


def address(code: str) -> str:
    """Where the script of a language is; empty for English."""
    return "" if code == SOURCE else reverse("script-words", args=[code, digest(code)])
