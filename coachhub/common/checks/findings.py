from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

SKIPPED_FOLDERS = frozenset({".venv", "var", ".git", "__pycache__", "node_modules", "vendor"})


@dataclass(frozen=True)
class Finding:
    path: str
    line: int
    text: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.text}"


def files(root: Path, *endings: str) -> Iterator[Path]:
    """Files under `root` with one of the endings, own ones only, in a steady order."""
    for path in sorted(root.rglob("*")):
        inside = path.relative_to(root).parts
        if not SKIPPED_FOLDERS.intersection(inside) and path.is_file() and path.name.endswith(endings):
            yield path
