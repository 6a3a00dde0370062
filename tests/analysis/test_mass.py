"""Segment masses against the published tables of de Leva (1996), J Biomech 29:1223-1230.

Values as copied in three machine-readable sources; lengths marked "from memory" there are only used where they
must agree with one another.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.mass import FEMALE, MALE, Segment, mass_centre, mean_table
from analysis.metrics.sampler import Sampler
from tests.analysis.conftest import truth_tracks


@pytest.mark.parametrize(("table", "tolerance"), [(MALE, 1e-9), (FEMALE, 1.01e-4), (mean_table(), 1e-12)])
def test_masses_sum_to_one(table: dict[str, Segment], tolerance: float) -> None:
    # The female table's published rounding leaves 0.9999.
    assert sum(s.mass * s.count for s in table.values()) == pytest.approx(1.0, abs=tolerance)


@pytest.mark.parametrize(
    ("ours", "mid_shoulder_mm", "cervicale", "suprasternale"),
    [
        # (fraction from the proximal landmark, length in mm) of the other two trunk definitions
        (MALE["trunk"], 515.5, (0.5138, 603.3), (0.4486, 531.9)),
        (FEMALE["trunk"], 497.9, (0.4964, 614.8), (0.4151, 529.3)),
    ],
)
def test_the_three_trunk_definitions_give_one_mass_centre(
    ours: Segment, mid_shoulder_mm: float, cervicale: tuple[float, float], suprasternale: tuple[float, float]
) -> None:
    # All three end at mid-hip, so the height of the mass centre above it must agree: 293 mm and 310 mm.
    height = (1 - ours.centre) * mid_shoulder_mm
    for fraction, length in (cervicale, suprasternale):
        assert height == pytest.approx((1 - fraction) * length, abs=0.4)


def test_mass_centre_of_rendered_swings_is_near_the_renderers_own() -> None:
    # The renderer's ten-segment mass centre (rough fractions) is an independent computation, metres from mid-stance.
    for name in ("fo_none", "fo_sway"):
        tracks, events = truth_tracks(name)
        sampler = Sampler(tracks, events)
        centre = mass_centre(sampler, "address")[0, 0]
        ankles = sampler.middle("ankle", "address")[0, 0]
        assert abs(centre - ankles) / sampler.stature_px < 0.02
        later = mass_centre(sampler, "impact")[0, 0]
        assert np.sign(later - centre) == 1  # both swings move to the target, right in the picture
