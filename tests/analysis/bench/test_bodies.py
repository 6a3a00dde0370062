"""Leaving one body out: its own offsets never enter, and the shipped table comes back afterwards."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.bench.bodies import Case, bodies_table, errors_of, fitted_on
from analysis.metrics import offsets
from analysis.metrics.unseen import WIDER, wider
from analysis.types import JOINT_INDEX
from tests.analysis.conftest import truth_tracks


def case(body: str, shift: float) -> Case:
    """A swing whose pose model puts both hips ``shift`` of the height to the right of where they are."""
    truth, events = truth_tracks("fo_none")
    xy = truth.pose.xy.copy()
    for side in ("left", "right"):
        xy[:, JOINT_INDEX[f"{side}_hip"], 0] += shift * truth.stature_px
    return Case(body, replace(truth, exact=False, pose=replace(truth.pose, xy=xy)), events, truth, events)


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    """Two bodies of five clips; of the second the hips are seen elsewhere."""
    return [case("a", 0.01) for _ in range(5)] + [case("b", 0.03) for _ in range(5)]


def test_a_body_that_differs_shows_when_it_is_left_out(cases: list[Case]) -> None:
    with fitted_on(cases[5:]):
        own = errors_of(cases[5])["trunk_tilt_address"][0]
    with fitted_on(cases[:5]):
        alone = errors_of(cases[5])["trunk_tilt_address"][0]
    assert abs(own) < 0.3
    # 2 % of the height across a trunk of some 30 %: about four degrees.
    assert abs(alone) == pytest.approx(np.degrees(0.02 / 0.3), rel=0.3)


def test_the_shipped_table_comes_back(cases: list[Case]) -> None:
    shipped = offsets.offset_table()
    with fitted_on(cases[:5]):
        assert offsets.offset_table() is not shipped
    assert offsets.offset_table() is shipped


def test_the_table_has_a_column_for_each_body(cases: list[Case]) -> None:
    text = bodies_table([cases[0], cases[5]])
    assert text.splitlines()[0].split()[5:7] == ["out", "a"]
    assert "body left out" in text.splitlines()[-1]


def test_no_error_is_narrowed() -> None:
    assert min(WIDER.values()) > 1.0
    assert wider("face_on", "no such row") == 1.0
