"""Ball flight against the D-plane's vector geometry (Jorgensen 1994) and worked examples computed from it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.flight import flight, shape_name

# path, face, attack, dynamic loft, share; linear start, spin loft, axis tilt; words for a right-hander.
# Worked by an independent script from the vector formula (computed, not published).
EXAMPLES = [
    ((-4, -2, -4, 25, 0.75), (-2.50, 29.1, 3.7), "pull fade"),
    ((-3, 0, -4, 25, 0.75), (-0.75, 29.1, 5.6), "fade"),
    ((-5, 4, -4, 25, 0.75), (1.75, 30.3, 16.3), "push slice"),
    ((-8, -3, -4, 25, 0.75), (-4.25, 29.4, 9.2), "pull slice"),
    ((6, 3, -4, 25, 0.75), (3.75, 29.1, -5.6), "push draw"),
    ((-6, 0, 0, 14, 0.85), (-0.90, 15.2, 22.7), "slice"),
    ((4, 4, 0, 14, 0.85), (4.00, 14.0, 0.0), "push"),
    ((-4, -4, 0, 14, 0.85), (-4.00, 14.0, 0.0), "pull"),
    ((0, 0, 0, 14, 0.85), (0.00, 14.0, 0.0), "straight"),
    ((1, -5, 0, 14, 0.85), (-4.10, 15.2, -22.7), "pull hook"),
]


@pytest.mark.parametrize(("given", "expected", "words"), EXAMPLES)
def test_worked_examples(given: tuple[float, ...], expected: tuple[float, ...], words: str) -> None:
    path, face, attack, loft, share = given
    f = flight(path_deg=path, face_deg=face, attack_deg=attack, dynamic_loft_deg=loft, face_share=share)
    assert f.start_deg == pytest.approx(expected[0], abs=0.01)
    assert f.spin_loft_deg == pytest.approx(expected[1], abs=0.06)
    assert f.axis_tilt_deg == pytest.approx(expected[2], abs=0.1)
    assert shape_name(f.start, f.curve, f.strength, "right") == words


def test_small_angle_form_of_the_tilt() -> None:
    # tan(tilt) = cos(attack) cos(loft) sin(face - path) / sin(spin loft), spin loft = loft - attack.
    f = flight(path_deg=-1, face_deg=1, attack_deg=-4, dynamic_loft_deg=25)
    tan = np.cos(np.radians(4)) * np.cos(np.radians(25)) * np.sin(np.radians(2)) / np.sin(np.radians(29))
    assert f.axis_tilt_deg == pytest.approx(float(np.degrees(np.arctan(tan))), abs=0.05)


@pytest.mark.parametrize("gap", [-6.0, -1.5, 2.0, 7.0])
def test_mirror_image(gap: float) -> None:
    one = flight(path_deg=2, face_deg=2 + gap, attack_deg=-3, dynamic_loft_deg=30)
    other = flight(path_deg=-2, face_deg=-2 - gap, attack_deg=-3, dynamic_loft_deg=30)
    assert other.start_deg == pytest.approx(-one.start_deg)
    assert other.axis_tilt_deg == pytest.approx(-one.axis_tilt_deg)
    right = shape_name(one.start, one.curve, one.strength, "right")
    assert right == shape_name(other.start, other.curve, other.strength, "left")


def test_ranges_are_checked() -> None:
    with pytest.raises(ValueError, match=r"path_deg must be in -45\.\.45, got 60"):
        flight(path_deg=60, face_deg=0, attack_deg=0, dynamic_loft_deg=20)
    with pytest.raises(ValueError, match="face_share"):
        flight(path_deg=0, face_deg=0, attack_deg=0, dynamic_loft_deg=20, face_share=1.5)
