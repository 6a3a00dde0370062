"""Run one function on a stranger's file in a child process with limits and without network."""

from __future__ import annotations

import json
import os
import selectors
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from analysis.adapters.confine import Limits, protections

__all__ = ["ChildError", "Limits", "protections", "run_limited"]

Progress = Callable[[str, int], None]

_ROOT = Path(__file__).resolve().parent.parent.parent
# Everything else of the environment (keys, addresses) is none of the child's business.
_KEPT_VARIABLES = (
    "PATH",
    "LANG",
    "LC_ALL",
    "TMPDIR",
    "LD_LIBRARY_PATH",
    "OMP_NUM_THREADS",
    "OPENBLAS_NUM_THREADS",
    "TZ",
)
_MAX_ANSWER_BYTES = 64 * 1024 * 1024
_KEPT_WORDS_BYTES = 8192
_BEAT_S = 5.0
_PATIENCE_S = 5.0

_SENTENCES = {
    "out_of_time": "Working on this video took too long and was stopped. Please send a shorter clip.",
    "out_of_cpu": "Working on this video took too long and was stopped. Please send a shorter clip.",
    "out_of_memory": "This video needs more memory than we allow. Please film at 1080p or send a shorter clip.",
    "file_too_large": "Working on this video made a file that is too large. Please send a shorter clip.",
    "disk_full": "There is no room left on the server. We try again by ourselves; nothing is lost.",
    "crashed": "Working on this video ended unexpectedly. Please film the swing again or save the clip as MP4 (H.264).",
    "failed": "Something went wrong on our side while working on this video.",
}


class ChildError(Exception):
    """The child ended without a result.

    Parameters
    ----------
    kind : str
        ``"refused"`` (the function refused its input), ``"limit"``, ``"crash"`` or ``"failed"`` (our own mistake).
    code : str
        The refusal's code, or ``out_of_time``, ``out_of_cpu``, ``out_of_memory``, ``file_too_large``, ``disk_full``,
        ``crashed``, ``failed``.
    sentence : str
        For the person who sent the file.
    detail : str
        For the log: traceback, signal, last words on standard error.
    """

    def __init__(self, kind: str, code: str, sentence: str, detail: str = "") -> None:
        super().__init__(f"{code}: {sentence}")
        self.kind = kind
        self.code = code
        self.sentence = sentence
        self.detail = detail


def run_limited(
    target: str, kwargs: Mapping[str, Any], *, limits: Limits, on_progress: Progress | None = None
) -> Any:
    """Call ``target(report=..., **kwargs)`` in a confined child process.

    Parameters
    ----------
    target : str
        ``"package.module:function"``. The function gets `report`, a callable taking a stage's name and a
        percentage 0..100.
    kwargs : mapping
        JSON values.
    limits : Limits
    on_progress : callable, optional
        Called with stage and percentage at each change, and at least every 5 s with the last ones. What it raises
        ends the child and is raised here.

    Returns
    -------
    JSON value
        What the function returned.

    Raises
    ------
    ChildError
        When there is no result; says whether the input, a limit, a crash or a mistake of ours was the reason.
    ValueError
        If `target` isn't of the form above.

    Notes
    -----
    What a machine can't give, `protections` says; nothing is pretended.
    """
    if target.count(":") != 1:
        raise ValueError(f"target must be 'package.module:function', got {target!r}")
    reading, writing = os.pipe()
    try:
        child = _start(writing)
    except BaseException:
        os.close(reading)
        raise
    finally:
        os.close(writing)
    heard, patience_s = _Heard(on_progress or _ignore), 0.0
    try:
        _order(child, {"target": target, "kwargs": dict(kwargs), "limits": asdict(limits), "pipe": writing})
        _listen(child, reading, time.monotonic() + limits.wall_s, heard)
        patience_s = 0.0 if heard.late else _PATIENCE_S
    finally:
        _end(child, patience_s)
        os.close(reading)
    return _outcome(heard, child.returncode)


def _start(writing: int) -> subprocess.Popen[bytes]:
    environment = {name: os.environ[name] for name in _KEPT_VARIABLES if name in os.environ}
    environment["PYTHONPATH"] = str(_ROOT)
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "analysis.adapters.child"],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        pass_fds=(writing,),
        env=environment,
        cwd="/",
        start_new_session=True,
    )


def _order(child: subprocess.Popen[bytes], order: dict[str, Any]) -> None:
    assert child.stdin is not None
    # A child that died at once breaks the pipe; its return code says why.
    with suppress(BrokenPipeError):
        child.stdin.write(json.dumps({**order, "parent": os.getpid()}).encode())
        child.stdin.close()


class _Heard:
    """What the child said so far."""

    def __init__(self, on_progress: Progress) -> None:
        self.answer: dict[str, Any] = {}
        self.words = b""
        self.late = False
        self._pending = b""
        self._last = ("starting", 0)
        self._on_progress = on_progress

    def take_answer(self, data: bytes) -> None:
        *lines, self._pending = (self._pending + data).split(b"\n")
        if len(self._pending) > _MAX_ANSWER_BYTES:
            raise ChildError("failed", "failed", _SENTENCES["failed"], "the answer was too long")
        for line in lines:
            message = _message(line)
            if "stage" in message:
                self._last = (str(message["stage"]), int(message["percent"]))
                self.tell()
            else:
                self.answer = message

    def take_words(self, data: bytes) -> None:
        self.words = (self.words + data)[-_KEPT_WORDS_BYTES:]

    def tell(self) -> None:
        self._on_progress(*self._last)


def _message(line: bytes) -> dict[str, Any]:
    try:
        message = json.loads(line)
    except ValueError:
        message = None
    if not isinstance(message, dict):
        raise ChildError("crash", "crashed", _SENTENCES["crashed"], "the answer was no JSON object")
    return message


def _ignore(stage: str, percent: int) -> None:
    return None


def _listen(child: subprocess.Popen[bytes], reading: int, deadline: float, heard: _Heard) -> None:
    """Take in answers and last words until both pipes close, or the time is over."""
    assert child.stderr is not None
    beat = time.monotonic() + _BEAT_S
    with selectors.DefaultSelector() as selector:
        selector.register(reading, selectors.EVENT_READ, heard.take_answer)
        selector.register(child.stderr, selectors.EVENT_READ, heard.take_words)
        while selector.get_map():
            now = time.monotonic()
            if now >= deadline:
                heard.late = True
                return
            for key, _ in selector.select(max(0.0, min(deadline, beat) - now)):
                data = os.read(key.fd, 65536)
                if data:
                    key.data(data)
                else:
                    selector.unregister(key.fileobj)
            if time.monotonic() >= beat:
                beat = time.monotonic() + _BEAT_S
                heard.tell()


def _end(child: subprocess.Popen[bytes], patience_s: float) -> None:
    """Give a child that has said all a moment to leave; then end it and whatever it started."""
    until = time.monotonic() + patience_s
    # Left unreaped until the group is signalled, so that its number can't belong to another process by then.
    while not _has_exited(child) and time.monotonic() < until:
        time.sleep(0.005)
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(child.pid, signal.SIGKILL)
    child.wait()
    if child.stderr:
        child.stderr.close()


def _has_exited(child: subprocess.Popen[bytes]) -> bool:
    if not hasattr(os, "waitid"):  # macOS before Python 3.13
        return child.poll() is not None
    return os.waitid(os.P_PID, child.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None


def _outcome(heard: _Heard, status: int) -> Any:
    answer, said = heard.answer, heard.words.decode("utf-8", "replace")
    if "result" in answer:
        return answer["result"]
    if heard.late:
        raise _limit("out_of_time", said)
    if "error" in answer:
        error = answer["error"]
        sentence = error["sentence"] or _SENTENCES.get(error["code"], _SENTENCES["failed"])
        raise ChildError(error["kind"], error["code"], sentence, error["detail"])
    if status == -signal.SIGXCPU:
        raise _limit("out_of_cpu", said)
    if status == -signal.SIGXFSZ:
        raise _limit("file_too_large", said)
    if any(sign in said for sign in ("bad_alloc", "MemoryError", "Cannot allocate memory", "out of memory")):
        raise _limit("out_of_memory", said)
    name = signal.Signals(-status).name if status < 0 else f"status {status}"
    raise ChildError("crash", "crashed", _SENTENCES["crashed"], f"{name}\n{said}")


def _limit(code: str, detail: str) -> ChildError:
    return ChildError("limit", code, _SENTENCES[code], detail)
