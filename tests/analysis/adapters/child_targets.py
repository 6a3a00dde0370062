"""What the sandbox is tested with: functions that behave, and functions that don't."""

from __future__ import annotations

import ctypes
import errno
import os
import signal
import socket
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from analysis.adapters.media import MediaError

Report = Callable[[str, float], None]


def add(report: Report, a: float, b: float) -> float:
    report("adding", 50)
    print("libraries may talk on standard output")
    return a + b


def refuse(report: Report) -> None:
    raise MediaError("too_long", "This clip is too long. Please trim it.")


def mistake(report: Report) -> float:
    return 1 / 0


def reach(report: Report, family: str, port: int) -> str:
    try:
        kind = getattr(socket, family)
        with socket.socket(kind, socket.SOCK_STREAM) as sock:
            sock.connect(("127.0.0.1" if family == "AF_INET" else "::1", port))
    except OSError as problem:
        return errno.errorcode[problem.errno or 0]
    return "connected"


def unix_pair(report: Report) -> str:
    left, right = socket.socketpair(socket.AF_UNIX)
    left.send(b"x")
    return right.recv(1).decode()


def ring(report: Report) -> str:
    libc = ctypes.CDLL(None, use_errno=True)
    libc.syscall(425, 8, ctypes.create_string_buffer(120))
    return errno.errorcode[ctypes.get_errno()]


def hoard(report: Report) -> int:
    kept = []
    while True:
        kept.append(bytearray(os.urandom(1024) * 16_384))


def hoard_natively(report: Report) -> int:
    libc = ctypes.CDLL(None)
    libc.malloc.restype = ctypes.c_void_p
    total = 0
    while libc.malloc(ctypes.c_size_t(1 << 24)):
        total += 1 << 24
    return total


def spin(report: Report) -> None:
    while True:
        pass


def sleep(report: Report, note: str = "") -> None:
    if note:
        Path(note).write_text(str(os.getpid()))
    time.sleep(600)


def fill(report: Report, path: str) -> None:
    with open(path, "wb") as file:
        while True:
            file.write(bytes(1 << 20))


def crash(report: Report) -> None:
    ctypes.string_at(0)


def abort_for_memory(report: Report) -> None:
    print("terminate called after throwing an instance of 'std::bad_alloc'", file=sys.stderr, flush=True)
    os.kill(os.getpid(), signal.SIGABRT)


def leave_a_child(report: Report, note: str) -> str:
    pid = os.fork()
    if pid == 0:
        time.sleep(600)
        os._exit(0)
    Path(note).write_text(str(pid))
    time.sleep(600)
    return "done"


def variables(report: Report) -> list[str]:
    return sorted(os.environ)


def babble(report: Report) -> str:
    print("x" * 200_000, file=sys.stderr)
    for percent in range(100):
        report("talking", percent)
    return "done"


def landmarks(report: Report, bundle: str, picture_edge: int) -> dict[str, Any]:
    """Load the pose model and run it once: the largest thing that must fit under the limits."""
    import resource

    import numpy as np

    mediapipe = __import__("mediapipe")
    vision = mediapipe.tasks.vision
    options = vision.PoseLandmarkerOptions(
        base_options=mediapipe.tasks.BaseOptions(model_asset_path=bundle),
        running_mode=vision.RunningMode.VIDEO,
    )
    with vision.PoseLandmarker.create_from_options(options) as landmarker:
        picture = np.zeros((picture_edge, picture_edge, 3), np.uint8)
        for k in range(3):
            landmarker.detect_for_video(
                mediapipe.Image(image_format=mediapipe.ImageFormat.SRGB, data=picture), k * 20
            )
    data = [line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmData")]
    return {"peak_rss_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, "data": data}


def threads_seen(report: Report) -> dict[str, Any]:
    """The cores this process may use, and the threads its libraries were told to use."""
    import cv2

    from analysis.adapters.media import open_container, video_stream
    from analysis.adapters.threads import VARIABLES, cores

    clip = Path(__file__).parents[3] / "fixtures" / "clips" / "fo_none.mp4"
    with open_container(clip) as container:
        decoder = video_stream(container).codec_context.thread_count
    return {
        "cores": len(cores()),
        "picture_library": cv2.getNumThreads(),
        "decoder": decoder,
        "variables": [os.environ[name] for name in VARIABLES],
    }
