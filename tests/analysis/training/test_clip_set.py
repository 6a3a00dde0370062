"""Drawn sets of clips: the same again for the same seed, every fault in its view, bodies that can be built."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.training.body import BODIES, load_body, random_mix
from analysis.training.clip_set import FROM_BEHIND, jobs, main
from analysis.training.clips import parser
from analysis.training.parameters import FAULTS
from analysis.types import DOWN_THE_LINE


@pytest.mark.unit
def test_a_set_is_drawn_the_same_for_the_same_seed() -> None:
    assert jobs(30, 5, "a") == jobs(30, 5, "a")
    assert jobs(30, 5, "a") != jobs(30, 6, "a")
    with pytest.raises(ValueError, match="count must be at least 1"):
        jobs(0, 5, "a")


@pytest.mark.unit
def test_every_fault_comes_in_the_view_that_shows_it() -> None:
    drawn = [parser().parse_args(row) for row in jobs(84, 11, "b")]
    assert {one.fault for one in drawn} == set(FAULTS)
    faulty = [one for one in drawn if one.fault != "none"]
    assert all((one.view == DOWN_THE_LINE) == (one.fault in FROM_BEHIND) for one in faulty)
    assert sum(one.amount == 1.0 for one in faulty) > len(faulty) / 2
    assert all(0.3 <= one.amount <= 1 for one in faulty)
    assert any(one.left for one in drawn) and any(one.fps == 30 for one in drawn)
    assert {one.amount for one in map(parser().parse_args, jobs(21, 1, "c", 0.5))} == {0.5}


@pytest.mark.unit
def test_mixed_bodies_stand_on_the_ground_and_differ() -> None:
    draw = np.random.default_rng(3)
    heights = []
    for _ in range(6):
        body = load_body(random_mix(draw))
        assert body.rest[np.unique(body.faces["body"])][:, 2].min() == pytest.approx(0, abs=1e-9)
        heights.append(body.height)
    assert min(heights) > 1.3 and max(heights) < 2.1 and np.ptp(heights) > 0.05
    same = load_body("mix:1,0,0,1")
    assert np.allclose(same.rest, load_body(BODIES[0]).rest)
    for wrong in ("mix:1,0,1", "mix:a,b,c,d", "mix:1,0,0,9", "nobody"):
        with pytest.raises(ValueError, match="body must be one of"):
            load_body(wrong)


@pytest.mark.unit
def test_the_list_is_printed_and_a_wrong_count_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["nowhere", "--list", "--count", "3"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 3
    assert main(["nowhere", "--count", "0"]) == 64
    assert "can't be rendered" in capsys.readouterr().err
