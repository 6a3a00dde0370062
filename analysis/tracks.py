"""One swing's measured tracks: what events, metrics and signs are computed from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.body import middle, stature_px
from analysis.types import FACE_ON, HANDS, VIEWS, BallMark, ClubTrack, Floats, PoseTrack

# The pose model puts ears and soles a little nearer each other than they are (rendered bench).
SEEN_SHARE = 0.98


@dataclass(frozen=True, slots=True)
class SwingTracks:
    """Pose, club and ball of one swing with what is known about the filming.

    ``stretch`` > 1: clip time runs that many times slower than real time; ``is_timed``: the file itself says so, and
    the swing's own pace bears it out, so that seconds of the swing are known. ``guess`` holds rough times
    (seconds) of takeaway, top, impact and finish from the coarse pass. ``motion`` (M,) is how much the
    picture around the golfer changes from frame to frame (grey levels) at ``motion_t_s`` (M,). ``ground_xy`` (G, 2)
    is where the ground under the golfer lies against the first frame, pixels, at ``ground_t_s`` (G,): a hand-held
    phone moves it; known until soon after the takeaway, NaN where too little shows. ``exact``: the joints are the
    body's landmarks themselves, as in a truth file, not a pose model's idea of them. ``by_hand``: joint to (T,), how
    far (0..1) its place is a coach's.
    """

    pose: PoseTrack
    club: ClubTrack
    ball: BallMark
    view: str
    handedness: str
    fps: float
    guess: dict[str, float]
    stretch: float = 1.0
    is_timed: bool = False
    club_class: str | None = None
    strike_s: float | None = None
    motion_t_s: Floats = field(default_factory=lambda: np.zeros(0))
    motion: Floats = field(default_factory=lambda: np.zeros(0))
    ground_t_s: Floats = field(default_factory=lambda: np.zeros(0))
    ground_xy: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    exact: bool = False
    by_hand: Mapping[str, Floats] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.pose.t_s.size == 0:
            raise ValueError("pose must hold at least one frame, got 0")
        if self.view not in VIEWS:
            raise ValueError(f"view must be one of {VIEWS}, got {self.view!r}")
        if self.handedness not in HANDS:
            raise ValueError(f"handedness must be one of {HANDS}, got {self.handedness!r}")

    @property
    def lead(self) -> str:
        """``left`` for a right-hander, ``right`` for a left-hander."""
        return "left" if self.handedness == "right" else "right"

    @property
    def trail(self) -> str:
        """The other side."""
        return "right" if self.handedness == "right" else "left"

    @property
    def plus_x(self) -> float:
        """+1 where picture x to the right is the view's positive sense, else -1.

        Face-on: toward the target, which lies right of the picture for a right-hander (the camera faces
        the chest). Down-the-line: toward the ball, also to the right for a right-hander.
        """
        return 1.0 if self.handedness == "right" else -1.0

    @property
    def face_on(self) -> bool:
        """Whether the camera faced the chest."""
        return self.view == FACE_ON

    @property
    def stature_px(self) -> float:
        """Standing height in pixels from the frames before the takeaway."""
        early = self.pose.t_s <= max(
            self.guess["takeaway"], float(self.pose.t_s[min(2, len(self.pose.t_s) - 1)])
        )
        start = PoseTrack(
            self.pose.t_s[early],
            self.pose.xy[early],
            self.pose.confidence[early],
            self.pose.width,
            self.pose.height,
        )
        return stature_px(start) / (1.0 if self.exact else SEEN_SHARE)

    def held_still(self, t_s: Floats, xy: Floats) -> Floats:
        """Places (T, 2) or (T, K, 2) in the picture at times (T,), less the way the ground moved."""
        known = np.isfinite(self.ground_xy).all(1)
        if known.sum() < 2:
            return xy
        moved = [np.interp(t_s, self.ground_t_s[known], self.ground_xy[known, k]) for k in (0, 1)]
        return np.asarray(xy - np.stack(moved, 1).reshape((len(t_s),) + (1,) * (xy.ndim - 2) + (2,)))

    def hands(self) -> Floats:
        """Track (T, 2) of the point between the wrists, pixels."""
        return middle(self.pose, "wrist")


def unwrapped_deg(club: ClubTrack, least: float = 0.5) -> tuple[Floats, Floats]:
    """Times and continuous direction (degrees) of the club's confident frames.

    Returns
    -------
    t_s, deg : ndarray of shape (K',)
    """
    keep = (club.confidence >= least) & np.isfinite(club.deg)
    return club.t_s[keep], np.degrees(np.unwrap(np.radians(club.deg[keep])))
