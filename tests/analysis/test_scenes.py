"""The gate on scenes as phones bring them: refused or let through, with the right reason, always."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import pytest

from analysis.adapters.lookout import scout
from analysis.adapters.video import probe
from analysis.gate import find_windows, people_json, window_problems
from analysis.quality import SENTENCES, Look
from analysis.scout import SwingWindow
from tests.analysis.scenes import FPS, IMPACT, SCENES, write_scene


@dataclass(frozen=True)
class Seen:
    """What the gate makes of a scene."""

    look: Look
    fatal: tuple[str, ...]
    warnings: tuple[str, ...]
    windows: tuple[SwingWindow, ...]


@pytest.fixture(scope="session")
def seen(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Seen]:
    """The gate's answer to a scene; each is looked at once."""
    folder = tmp_path_factory.mktemp("scenes")

    def look_at(name: str) -> Seen:
        path = write_scene(folder / f"{name}.mp4", SCENES[name]())
        clip = probe(path)
        look = scout(path, clip, lambda share: None)
        problems, windows = find_windows(look, clip.nominal_fps, clip.capture_fps)
        problems += [p for window in windows for p in window_problems(look, window)]
        fatal = tuple(p.code for p in problems if p.fatal)
        return Seen(look, fatal, tuple(p.code for p in problems if not p.fatal), windows)

    return cache(look_at)


@pytest.mark.parametrize(
    ("scene", "code"),
    [
        ("empty_range", "no_golfer"),
        ("feet", "no_golfer"),
        ("one_shoe", "no_golfer"),
        ("bag", "no_golfer"),
        ("faint_reflection", "no_golfer"),
        ("standing", "only_standing"),
        ("standing_down_the_line", "only_standing"),
        ("slow_raise", "no_swing"),
        ("half_swing", "no_swing"),
        ("starts_at_the_top", "no_swing"),
        ("ends_before_impact", "no_swing"),
        ("two_golfers", "two_people"),
        ("upper_half", "body_cut_off"),
        ("head_cut", "body_cut_off"),
        ("very_far", "too_small_to_measure"),
        ("night", "too_dark_to_measure"),
        ("fogged", "too_blurred_to_measure"),
        ("shaken_hard", "too_shaky_to_measure"),
        ("squeezed", "too_compressed_to_measure"),
    ],
)
def test_what_is_no_swing_is_refused_with_its_reason(
    scene: str, code: str, seen: Callable[[str], Seen]
) -> None:
    found = seen(scene)
    assert (found.fatal, found.windows) == ((code,), ())


@pytest.mark.parametrize(
    ("scene", "warnings"),
    [
        ("golfer_and_reflection", ()),
        ("golfer_and_bystander", ("someone_else",)),
        ("large_bystander", ("someone_else",)),
        ("small_neighbour_swinging", ()),
        ("dark", ("too_dark",)),
        ("blurred", ("blurred",)),
        ("shaken", ("shaky",)),
        ("hands_at_the_edge", ("edge_of_picture",)),
        ("far", ("too_far",)),
        ("starts_late", ("starts_late",)),
        ("ends_early", ("ends_early",)),
        ("very_short", ("starts_late", "ends_early")),
        ("waggles", ()),
        ("missing_frames", ("frames_missing",)),
        ("variable_rate", ()),
        ("slow_motion_file", ("slow_motion",)),
        ("slow_motion_said", ("slow_motion_timed",)),
    ],
)
def test_a_swing_is_let_through_with_its_warning(
    scene: str, warnings: tuple[str, ...], seen: Callable[[str], Seen]
) -> None:
    found = seen(scene)
    assert (found.fatal, found.warnings, len(found.windows)) == ((), warnings, 1)


def test_two_swings_are_split(seen: Callable[[str], Seen]) -> None:
    found = seen("two_swings")
    assert (found.fatal, found.warnings) == ((), ("several_swings",))
    first, second = found.windows
    assert first.finish_s <= second.start_s
    assert second.impact_s == pytest.approx(2.5 + IMPACT / FPS, abs=0.06)


@pytest.mark.parametrize(("scene", "side"), [("golfer_and_bystander", "right"), ("large_bystander", "left")])
def test_the_one_who_swings_is_measured_and_marked(
    scene: str, side: str, seen: Callable[[str], Seen]
) -> None:
    """The golfer stands right (left) of the watcher; joints, box and choice all lie there."""
    look = seen(scene).look
    people = people_json(look)
    x0, y0, x1, y1 = people["boxes"][people["golfer"]]
    assert len(people["boxes"]) == 2
    assert 0 <= x0 < x1 <= 1
    assert 0 <= y0 < y1 <= 1
    assert ((x0 + x1) / 2 > 0.5) == (side == "right")
    middle = look.pose.joint("left_hip")[:, 0] / look.pose.width
    assert ((middle > x0 - 0.05) & (middle < x1 + 0.05)).all()


def test_waggles_do_not_begin_the_swing(seen: Callable[[str], Seen]) -> None:
    """The club goes back for good a little after frame 79 of the scene."""
    (window,) = seen("waggles").windows
    assert window.takeaway_s == pytest.approx(79 / FPS + 0.1, abs=0.25)


def test_a_slowed_clip_tells_how_much(seen: Callable[[str], Seen]) -> None:
    (window,) = seen("slow_motion_file").windows
    assert window.stretch == pytest.approx(4, rel=0.25)


def test_each_code_says_what_to_do() -> None:
    for code, (sentence, _) in SENTENCES.items():
        assert sentence.endswith("."), code
        assert len(sentence) < 220, code
