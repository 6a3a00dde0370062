"""What hands, messengers and bystanders do to a picture is never passed over in silence (dusk and fog: `scenes`).

The gate (the coarse pass) looks at a clean swing, spoiled more and more by the stress bench's own spoilers.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

from analysis.adapters import spoil
from analysis.adapters.lookout import scout
from analysis.adapters.video import probe
from analysis.bench.stress import spoiler
from analysis.gate import find_windows, window_problems
from analysis.types import Problem
from tests.analysis.clipmaker import CLIPS

CLEAN, SOMEBODY = CLIPS / "fo_none.mp4", CLIPS / "dtl_none.mp4"
Gate = Callable[[str, str], list[Problem]]


@cache
def clean() -> spoil.Reel:
    return spoil.read_reel(CLEAN)


@pytest.fixture(scope="module")
def gate(tmp_path_factory: pytest.TempPathFactory) -> Gate:
    """Everything the gate says of the swing, spoiled in a kind to a level."""
    folder = tmp_path_factory.mktemp("spoiled")

    def look_at(kind: str, level: str) -> list[Problem]:
        path = folder / f"{kind}_{level}.mp4"
        spoil.write_reel(spoiler(kind, level, SOMEBODY)(clean()), path)
        clip = probe(path)
        look = scout(path, clip, lambda share: None)
        problems, windows = find_windows(look, clip.nominal_fps, clip.capture_fps)
        assert bool(windows) != any(p.fatal for p in problems)
        return problems + [p for window in windows for p in window_problems(look, window)]

    return cache(look_at)


# Which codes may answer; at the severest level one of them must.
ANSWERS = {
    "shake": {"shaky", "too_shaky_to_measure"},
    "compression": {"compressed", "too_compressed_to_measure"},
    "bystander": {"someone_close", "someone_else", "two_people"},
}


@pytest.mark.parametrize("kind", ANSWERS)
def test_the_severest_level_is_answered_by_its_own_sentence(kind: str, gate: Gate) -> None:
    found = gate(kind, "severe")
    print(f"\n{kind} severe: {[p.code for p in found]}")
    assert {p.code for p in found} & ANSWERS[kind]
    # And by no wrong reason: the student would film again what was right.
    others = set().union(*(codes for key, codes in ANSWERS.items() if key != kind)) - {
        "blurred",
        "compressed",
    }
    assert not {p.code for p in found} & others


@pytest.mark.parametrize("kind", ["shake", "compression"])
def test_a_little_of_it_is_let_through(kind: str, gate: Gate) -> None:
    """None of the mild levels spoils a number (the stress report), so that nobody has to film again."""
    found = gate(kind, "mild")
    print(f"\n{kind} mild: {[p.code for p in found]}")
    assert not any(p.fatal for p in found)
    assert {p.code for p in found} <= ANSWERS[kind]


def test_a_watcher_who_stands_still_is_named_or_the_clip_refused(gate: Gate) -> None:
    found = gate("bystander", "mild")
    print(f"\nbystander mild: {[p.code for p in found]}")
    assert {p.code for p in found} & ANSWERS["bystander"] or any(p.fatal for p in found)


@pytest.mark.parametrize("kind", ANSWERS)
def test_each_answer_tells_how_to_film_again(kind: str, gate: Gate) -> None:
    words = ("Put the phone", "Send the original", "Film", "Wipe", "check that")
    for said in gate(kind, "severe"):
        assert any(word in said.sentence for word in words), said
