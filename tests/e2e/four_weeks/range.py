"""At the range: the questions of a new submission, the clips, and sending them; a clip of nobody is here too."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import av
import numpy as np
from playwright.sync_api import expect

from coachhub.bootstrap import layout
from tests.e2e.four_weeks.visitor import Visitor

CLIPS = layout.ROOT / "fixtures" / "clips"
# The first time, this includes the measuring.
ARRIVES_WITHIN_MS = 120_000


def clip(name: str) -> Path:
    return CLIPS / f"{name}.mp4"


def say_what_was_filmed(student: Visitor, *, miss: Sequence[str], intent: str = "") -> None:
    student.visit("/my/new/")
    student.check("iron", group="Which kind of club?")
    for words in miss:
        student.check(words)
    if intent:
        student.check(intent)
    student.check("No", group="Does anything hurt today?")
    student.press("Go on to the clips")
    expect(student.page.get_by_role("heading", name="Add clips")).to_be_visible()


def add_clip(student: Visitor, film: Path, *, view: str, before: int = 0) -> None:
    student.page.locator('input[type="file"]').set_input_files(str(film))
    student.page.locator(".chosen > li").get_by_label(view, exact=True).check()
    upload = student.page.get_by_role("button", name="Upload", exact=True)
    expect(upload).to_be_enabled()
    upload.click()
    student.journal.actions += 3
    expect(student.page.locator("[data-clip]")).to_have_count(before + 1, timeout=ARRIVES_WITHIN_MS)


def send(student: Visitor) -> None:
    student.press("Send to my coach")
    expect(student.page.locator(".turn")).to_contain_text(
        re.compile("With your coach|Please film again"), timeout=ARRIVES_WITHIN_MS
    )


def send_swing(
    student: Visitor, name: str, *, view: str = "face-on", miss: Sequence[str], intent: str = ""
) -> None:
    say_what_was_filmed(student, miss=miss, intent=intent)
    add_clip(student, clip(name), view=view)
    send(student)
    student.reads("With your coach", "Promised by")


def empty_range(path: Path) -> Path:
    """Sky, grass and a mat, a little grain, and nobody: as when the phone was started and one walked away."""
    noise = np.random.default_rng(3)
    high, wide = 960, 540
    scene = np.zeros((high, wide, 3), dtype=np.int16)
    scene[: high // 2], scene[high // 2 :] = (150, 180, 215), (70, 130, 60)
    scene[820:900, 140:400] = (40, 90, 50)
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=60, width=wide, height=high, pix_fmt="yuv420p")
        for _ in range(120):
            grain = noise.integers(-6, 7, (high, wide, 1), dtype=np.int16)
            frame = av.VideoFrame.from_ndarray((scene + grain).clip(0, 255).astype(np.uint8), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path
