"""The other end of `analysis.adapters.sandbox`: confine this process, call one function, send what came of it."""

from __future__ import annotations

import errno
import importlib
import json
import os
import sys
import traceback
from collections.abc import Callable
from typing import Any

from analysis.adapters.confine import Limits, confine

_FULL = {
    errno.ENOSPC: "disk_full",
    errno.EDQUOT: "disk_full",
    errno.EFBIG: "file_too_large",
    errno.ENOMEM: "out_of_memory",
}


def main() -> int:
    """Read one order from standard input and answer on the pipe named in it.

    Returns
    -------
    int
        0 when the function returned, 1 when it raised.
    """
    order = json.load(sys.stdin)
    pipe = os.fdopen(order["pipe"], "w", encoding="utf-8", buffering=1)
    # Libraries talk on standard output; only the pipe carries answers.
    os.dup2(2, 1)
    try:
        confine(Limits(**order["limits"]), order["parent"])
        result = _target(order["target"])(report=_reporter(pipe.write), **order["kwargs"])
        answer, status = {"result": result}, 0
        line = json.dumps(answer, allow_nan=False)
    except BaseException as problem:
        line, status = json.dumps({"error": _described(problem)}), 1
    pipe.write(line + "\n")
    pipe.flush()
    # Native libraries' threads may hang while an interpreter winds down.
    sys.stderr.flush()
    os._exit(status)


def _target(name: str) -> Callable[..., Any]:
    module, _, function = name.partition(":")
    return getattr(importlib.import_module(module), function)  # type: ignore[no-any-return]


def _reporter(write: Callable[[str], object]) -> Callable[[str, float], None]:
    last: list[object] = [None]

    def report(stage: str, percent: float) -> None:
        now = [stage, int(max(0, min(100, percent)))]
        if now != last:
            last[:] = now
            write(json.dumps({"stage": now[0], "percent": now[1]}) + "\n")

    return report


def _described(problem: BaseException) -> dict[str, str]:
    code, sentence = getattr(problem, "code", None), getattr(problem, "sentence", None)
    if isinstance(code, str) and isinstance(sentence, str):
        return {"kind": "refused", "code": code, "sentence": sentence, "detail": ""}
    detail = "".join(traceback.format_exception(problem))[-4000:]
    limit = _limit_behind(problem)
    if limit:
        return {"kind": "limit", "code": limit, "sentence": "", "detail": detail}
    return {"kind": "failed", "code": "failed", "sentence": "", "detail": detail}


def _limit_behind(problem: BaseException | None) -> str:
    while problem is not None:
        if isinstance(problem, MemoryError) or "Insufficient memory" in str(problem):
            return "out_of_memory"
        if isinstance(problem, OSError) and problem.errno in _FULL:
            return _FULL[problem.errno]
        problem = problem.__cause__ or problem.__context__
    return ""


if __name__ == "__main__":
    sys.exit(main())
