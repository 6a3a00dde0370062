"""Clips that many tests need measured, not the measuring itself: done once in a run, by the real limited child.

What it wrote is kept by the clip's content, the options and the content of the measuring code, and copied for the next
who asks; so it lasts over several processes, both forms and, run by hand, until the code changes.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import pickle
import shutil
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from analysis.adapters import sandbox
from coachhub.bootstrap import layout
from coachhub.bootstrap.testrun import MEASURED_VARIABLE
from coachhub.swings.domain import measuring

Made = TypeVar("Made")
CODE = layout.ROOT / "analysis"


@cache
def code_digest() -> str:
    digest = hashlib.sha256()
    for path in sorted(CODE.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts:
            digest.update(str(path.relative_to(CODE)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


def folder() -> Path:
    base = Path(os.environ.get(MEASURED_VARIABLE) or layout.var_dir() / "measured")
    for old in base.glob("*"):
        # By another state of the code; one that is just at work is younger.
        if old.name != code_digest() and old.stat().st_mtime < time.time() - 86400:
            shutil.rmtree(old, ignore_errors=True)
    place = base / code_digest()
    place.mkdir(parents=True, exist_ok=True)
    return place


def key_of(path: Path, options: Mapping[str, Any]) -> str:
    digest = hashlib.sha256(path.read_bytes() + json.dumps(options, sort_keys=True).encode())
    return digest.hexdigest()[:24]


@contextmanager
def alone(key: str) -> Iterator[Path]:
    """The place of a key, for one process at a time: the first measures, the others wait and copy."""
    place = folder() / key
    with place.with_suffix(".lock").open("w") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield place


def run_limited(target: str, kwargs: Mapping[str, Any], **more: Any) -> Any:
    """Stands where the sandbox's function stands; only what was measured before is not measured again."""
    if target != measuring.TARGET:
        return sandbox.run_limited(target, kwargs, **more)
    out = Path(kwargs["out_dir"])
    with alone(key_of(Path(kwargs["path"]), kwargs["options"])) as kept:
        if not kept.exists():
            sandbox.run_limited(target, kwargs, **more)
            part = kept.with_suffix(".part")
            shutil.rmtree(part, ignore_errors=True)
            shutil.copytree(out, part)
            part.rename(kept)
            return None
        shutil.copytree(kept, out, dirs_exist_ok=True)
    return None


def remember(setattr: Callable[[Any, str, Any], None] = setattr) -> None:
    """From now on, in this process, the site measures each clip once."""
    from coachhub.progress.demo import arriving

    for module in (measuring, arriving):
        setattr(module, "run_limited", run_limited)


def remembered(path: Path, options: Mapping[str, Any], make: Callable[[], Made]) -> Made:
    """An object made from a clip, by this process or by another one of the run."""
    with alone(f"object-{key_of(path, options)}") as kept:
        if not kept.exists():
            made = make()
            kept.with_suffix(".part").write_bytes(pickle.dumps(made))
            kept.with_suffix(".part").rename(kept)
            return made
        found: Made = pickle.loads(kept.read_bytes())
        return found
