"""Which way the camera looked and which hand the golfer plays with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.body import middle, torso_px
from analysis.types import DOWN_THE_LINE, FACE_ON, Floats, PoseTrack

# Down-the-line ankles and knees spread by this much of the trunk's length a degree the camera stands off the target
# line, and this much on the line itself (a stance a little open to the camera). Fitted to 27 rendered golfers of 21
# builds with -6 to +4 degrees, which it leaves 1.3 degrees off; shoulders and hips differ more between bodies.
SPREAD_PER_DEG, SPREAD_ON_LINE, YAW_SE_DEG = 0.0140, 0.0725, 1.5
YAW_REACH_DEG = 25.0
OFF_LINE_DEG = 8.0
# Shoulder width in the picture against the trunk's length, plus ankle spacing: 1.5..2.1 face-on and
# 0..0.3 down-the-line on the rendered bench. The border is halfway between broadside and edge-on.
BORDER = 0.85
CLEAR = 0.35


@dataclass(frozen=True, slots=True)
class ViewFinding:
    """The view with how clear it was, and the handedness with how clear it was (both 0..1)."""

    view: str
    view_p: float
    handedness: str
    handedness_p: float
    from_behind: bool


def broadside(address: PoseTrack) -> float:
    """Signed breadth of the body in the picture in trunk lengths: + with the left side to the right."""
    trunk = float(np.nanmedian(np.hypot(*(middle(address, "shoulder") - middle(address, "hip")).T)))
    shoulders = _median(address.joint("left_shoulder") - address.joint("right_shoulder"))[0]
    ankles = _median(address.joint("left_ankle") - address.joint("right_ankle"))[0]
    return float((shoulders + ankles) / trunk)


def leg_spread(address: PoseTrack) -> float:
    """Signed spread of the legs in the picture in trunk lengths: mean of ankles and knees, + as in `broadside`."""
    spread = [_median(address.joint(f"left_{p}") - address.joint(f"right_{p}"))[0] for p in ("ankle", "knee")]
    return float(np.mean(spread) / torso_px(address))


@dataclass(frozen=True, slots=True)
class Yaw:
    """How far the camera stands off the view's line, degrees, with its standard error; or why it can't be told.

    Down-the-line: + toward the ball and the golfer's chest, - toward the back. Where the golfer aims and where the
    camera stands can't be told apart.
    """

    deg: float | None
    se_deg: float | None
    reason: str | None = None

    def to_json(self) -> dict[str, Any]:
        """``{"value", "se", "unit"}`` or ``{"reason"}``."""
        if self.deg is None or self.se_deg is None:
            return {"reason": self.reason or "not measured"}
        return {"value": round(self.deg, 1), "se": round(self.se_deg, 1), "unit": "deg"}

    @property
    def off_line(self) -> bool:
        """Whether it is surely more than `OFF_LINE_DEG`."""
        return self.deg is not None and abs(self.deg) - (self.se_deg or 0.0) > OFF_LINE_DEG


def camera_yaw(address: PoseTrack, view: str) -> Yaw:
    """The camera's yaw error as far as the spread of the golfer's legs at address shows it.

    Parameters
    ----------
    address : PoseTrack
        The frames at address.
    view : str
        Face-on the spread hardly changes below 25 degrees, so no value is given.

    Returns
    -------
    Yaw
    """
    if view == FACE_ON:
        return Yaw(None, None, "face-on the picture hardly changes with a few degrees")
    spread = leg_spread(address)
    if not np.isfinite(spread):
        return Yaw(None, None, "the golfer is not seen at address")
    deg = (spread - SPREAD_ON_LINE) / SPREAD_PER_DEG
    if abs(deg) > YAW_REACH_DEG:
        return Yaw(None, None, "the camera stands too far off the line")
    return Yaw(deg, float(np.hypot(YAW_SE_DEG, 0.1 * deg)))


def find_view(address: PoseTrack, top: PoseTrack) -> ViewFinding:
    """View and handedness from the address posture and the top of the backswing.

    Parameters
    ----------
    address, top : PoseTrack
        The frames at address and around the top.

    Returns
    -------
    ViewFinding
        Face-on: the hands go to the trail side in the backswing. Down-the-line: at address the hands hang
        on the ball's side of the hips, to the right of the picture for a right-hander.
    """
    breadth = broadside(address)
    view = FACE_ON if abs(breadth) > BORDER else DOWN_THE_LINE
    view_p = _clearness(abs(breadth) - BORDER)
    trunk = float(np.nanmedian(np.hypot(*(middle(address, "shoulder") - middle(address, "hip")).T)))
    if view == FACE_ON:
        side = -float((_median(middle(top, "wrist")) - _median(middle(top, "hip")))[0]) / trunk
        behind = breadth < 0
        side = -side if behind else side
    else:
        hang = float((_median(middle(address, "wrist")) - _median(middle(address, "hip")))[0]) / trunk
        lean = float((_median(middle(address, "shoulder")) - _median(middle(address, "hip")))[0]) / trunk
        side, behind = hang + lean, False
    return ViewFinding(view, view_p, "right" if side > 0 else "left", _clearness(side), behind)


def _median(track: Floats) -> Floats:
    return np.asarray(np.nanmedian(track, axis=0))


def _clearness(margin: float) -> float:
    return float(0.5 + 0.5 * np.tanh(abs(margin) / CLEAR))
