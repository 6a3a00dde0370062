"""Down-the-line: where the feet point on the ground, as far as one phone tells."""

from __future__ import annotations

import numpy as np

from analysis.metrics.sampler import Missing, Sampler
from analysis.types import Floats

# A phone stands between hip and chest height; shares of the golfer's height, common practice, no source.
PHONE_HEIGHT, PHONE_HEIGHT_SD = 0.57, 0.08
# Focal length in shares of the picture's longer side: 26 to 30 mm equivalent, from memory; video is cropped a little.
FOCAL, FOCAL_SD = 0.81, 0.05
# Feet closer together than this share of the height give no direction.
LEAST_APART = 0.02


def feet_line(s: Sampler) -> Floats:
    """Direction (S,) of the line through the middles of both feet, degrees, + = lead foot nearer the ball's side.

    The ground is seen from the phone's height: what lies deeper in the picture is further away. Phone height and lens
    are usual ones with their spread; both scale small angles only. The zero is the line that the phone looks along.
    """
    lead, trail = (_middle_of_foot(s, side) for side in ("lead", "trail"))
    width, height = s.swing.pose.width, s.swing.pose.height
    rise = s.stature_px * np.clip(PHONE_HEIGHT + s.extra("phone height", PHONE_HEIGHT_SD), 0.35, 0.9)
    focal = max(width, height) * (FOCAL + s.extra("lens", FOCAL_SD))
    deeper = trail[:, 1] - lead[:, 1]
    if deeper[0] < LEAST_APART * s.stature_px:
        raise Missing("the feet stand too close together to tell their line")
    level = (lead[:, 1] + trail[:, 1]) / 2 - rise
    far, near = (rise / np.maximum(foot[:, 1] - level, 0.2 * rise) for foot in (lead, trail))
    ahead = (s.along(lead) - s.swing.plus_x * width / 2) * far
    behind = (s.along(trail) - s.swing.plus_x * width / 2) * near
    return np.degrees(np.arctan2(ahead - behind, focal * (far - near)))


def _middle_of_foot(s: Sampler, side: str) -> Floats:
    return (s.joint(f"{side}_heel", "address") + s.joint(f"{side}_foot_index", "address")) / 2
