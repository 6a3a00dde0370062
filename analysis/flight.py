"""Ball-flight geometry: start direction and spin axis from path and face at impact, and what a flight tells back.

Angles in degrees, + right of the target for path and face, + upward for attack and loft. A centred strike
without wind, from a level lie. Metres of curve are not computed: lift and drag are not known well enough.
The ball starts nearer the face, 61 to 83 % of the way from path to face (Wood, Henrikson and Broadie 2018,
Proceedings 2(6):249, grade S); less for lofted clubs (direction from memory, M).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from analysis.types import HANDS, Floats

# Trade shares by club (grade S2: 0.85 driver, 0.75 middle iron; the clubs between are set between).
FACE_SHARE = {"wedge": 0.70, "iron": 0.75, "hybrid": 0.78, "fairway": 0.82, "driver": 0.85}
# Half of the published span 0.61..0.83: how far one player's share may be from the club's.
SHARE_HALF_SPAN = 0.11
STRAIGHT_START_DEG, STRAIGHT_CURVE_DEG = 1.0, 0.5
# Nearer to a border than this, both sides of it are named (own choice, no study).
BORDER_DEG = 0.25
MILD_DEG, MODERATE_DEG = 3.0, 6.0  # grade C
LEFT, STRAIGHT, RIGHT, BETWEEN = "left", "straight", "right", "between"
SIDES = (LEFT, STRAIGHT, RIGHT)


@dataclass(frozen=True, slots=True)
class Flight:
    """Where a ball starts and how its spin axis tilts; degrees, + = right.

    Attributes
    ----------
    start_deg : float
        Linear form, path + share x (face - path).
    start_vector_deg : float
        From the plane of club velocity and face normal; up to 0.5 away from the linear form.
    launch_deg : float
        Upward start from the same plane.
    spin_loft_deg : float
        Angle between club velocity and face normal, 0..180.
    axis_tilt_deg : float
        Spin axis against level; + curves right.
    face_to_path_deg : float
        Face minus path.
    starts, curves : tuple of str
        One of ``left``, ``straight``, ``right``, or the neighbours among them that can't be told apart.
    strength : {"none", "mild", "moderate", "severe"}
        Of the curve, by face minus path (grade C).
    """

    start_deg: float
    start_vector_deg: float
    launch_deg: float
    spin_loft_deg: float
    axis_tilt_deg: float
    face_to_path_deg: float
    starts: tuple[str, ...]
    curves: tuple[str, ...]
    strength: str

    @property
    def start(self) -> str:
        """The side of the start, or ``between``."""
        return self.starts[0] if len(self.starts) == 1 else BETWEEN

    @property
    def curve(self) -> str:
        """The side of the curve, or ``between``."""
        return self.curves[0] if len(self.curves) == 1 else BETWEEN


def direction(side_deg: float, up_deg: float) -> Floats:
    """Unit vector (3,): x to the target, y right, z up.

    Parameters
    ----------
    side_deg, up_deg : float
        Degrees right of the target and above level.
    """
    side, up = np.radians(side_deg), np.radians(up_deg)
    return np.array([np.cos(up) * np.cos(side), np.cos(up) * np.sin(side), np.sin(up)])


def flight(
    *, path_deg: float, face_deg: float, attack_deg: float, dynamic_loft_deg: float, face_share: float = 0.75
) -> Flight:
    """Start and curve of a centred strike without wind.

    Parameters
    ----------
    path_deg, face_deg : float
        Club path and face against the target line, -45..45, + right.
    attack_deg, dynamic_loft_deg : float
        Attack angle (-30..30) and loft at impact (0..75) against the horizontal.
    face_share : float
        Share of the way from path to face at which the ball starts, 0..1; see ``FACE_SHARE``.

    Returns
    -------
    Flight

    Raises
    ------
    ValueError
        If an angle or the share is out of range or not finite.

    References
    ----------
    Jorgensen, The Physics of Golf (1994), the plane of velocity and face normal (from memory, M).
    """
    _in_range("path_deg", path_deg, -45, 45)
    _in_range("face_deg", face_deg, -45, 45)
    _in_range("attack_deg", attack_deg, -30, 30)
    _in_range("dynamic_loft_deg", dynamic_loft_deg, 0, 75)
    _in_range("face_share", face_share, 0, 1)
    velocity, normal = direction(path_deg, attack_deg), direction(face_deg, dynamic_loft_deg)
    launch = launch_direction(velocity, normal, face_share)
    gap = face_deg - path_deg
    return Flight(
        start_deg=path_deg + face_share * gap,
        start_vector_deg=side_deg(launch),
        launch_deg=float(np.degrees(np.arcsin(np.clip(launch[2], -1, 1)))),
        spin_loft_deg=spin_loft_deg(velocity, normal),
        axis_tilt_deg=axis_tilt_deg(velocity, normal),
        face_to_path_deg=gap,
        starts=_starts(velocity, normal, path_deg, gap, face_share),
        curves=_sides(gap, gap, STRAIGHT_CURVE_DEG),
        strength=_strength(gap),
    )


def spin_loft_deg(velocity: Floats, normal: Floats) -> float:
    """Angle between club velocity and face normal, 0..180 degrees.

    Parameters
    ----------
    velocity, normal : ndarray of shape (3,)
        x to the target, y right, z up; any length but zero.
    """
    return float(np.degrees(_angle(_unit("velocity", velocity), _unit("normal", normal))))


def axis_tilt_deg(velocity: Floats, normal: Floats) -> float:
    """Tilt of the spin axis from level, degrees, + = the ball curves right.

    Parameters
    ----------
    velocity, normal : ndarray of shape (3,)
        Club velocity and face normal; x to the target, y right, z up; any length but zero.

    Returns
    -------
    float
        -90..90; 0 where the two are parallel (no spin).

    Raises
    ------
    ValueError
        If a vector has no length.

    References
    ----------
    Jorgensen 1994: the axis is along velocity x face normal.
    """
    axis = np.cross(_unit("velocity", velocity), _unit("normal", normal))
    across = float(np.hypot(axis[0], axis[1]))
    if across < 1e-12 and abs(axis[2]) < 1e-12:
        return 0.0
    return float(np.degrees(np.arctan2(axis[2], across)))


def launch_direction(velocity: Floats, normal: Floats, face_share: float) -> Floats:
    """Unit vector (3,) of the ball's start, in the plane of velocity and face normal.

    Parameters
    ----------
    velocity, normal : ndarray of shape (3,)
        x to the target, y right, z up; any length but zero.
    face_share : float
        Share of the angle from velocity to normal, 0..1.

    Raises
    ------
    ValueError
        If the share is out of range or a vector has no length.
    """
    _in_range("face_share", face_share, 0, 1)
    a, b = _unit("velocity", velocity), _unit("normal", normal)
    angle = _angle(a, b)
    if angle < 1e-9:
        return b
    return np.asarray((np.sin((1 - face_share) * angle) * a + np.sin(face_share * angle) * b) / np.sin(angle))


def side_deg(vector: Floats) -> float:
    """Degrees right of the target of a vector (3,) seen from above."""
    return float(np.degrees(np.arctan2(vector[1], vector[0])))


_SHAPES = {
    (LEFT, LEFT): ("pull hook", "pull draw"),
    (LEFT, STRAIGHT): ("pull", "pull"),
    (LEFT, RIGHT): ("pull slice", "pull fade"),
    (STRAIGHT, LEFT): ("hook", "draw"),
    (STRAIGHT, STRAIGHT): ("straight", "straight"),
    (STRAIGHT, RIGHT): ("slice", "fade"),
    (RIGHT, LEFT): ("push hook", "push draw"),
    (RIGHT, STRAIGHT): ("push", "push"),
    (RIGHT, RIGHT): ("push slice", "push fade"),
}
_MIRROR = {LEFT: RIGHT, RIGHT: LEFT, STRAIGHT: STRAIGHT}


def shape_name(start: str, curve: str, strength: str, handedness: str) -> str:
    """The trade's word for a flight: mild curves are draw or fade, others hook or slice.

    Parameters
    ----------
    start, curve : {"left", "straight", "right"}
    strength : {"none", "mild", "moderate", "severe"}
    handedness : {"right", "left"}
        Words mirror for a left-hander.

    Raises
    ------
    ValueError
        If a side or the handedness is unknown.
    """
    _one_of("start", start, SIDES)
    _one_of("curve", curve, SIDES)
    _one_of("handedness", handedness, HANDS)
    if handedness == "left":
        start, curve = _MIRROR[start], _MIRROR[curve]
    strong, mild = _SHAPES[start, curve]
    return mild if strength in ("none", "mild") else strong


def flight_words(flown: Flight, handedness: str) -> str:
    """The trade's word for a flight, or ``between ... and ...`` near a border.

    Raises
    ------
    ValueError
        If the handedness is unknown.
    """
    pairs = product(flown.starts, flown.curves)
    names = list(dict.fromkeys(shape_name(s, c, flown.strength, handedness) for s, c in pairs))
    return names[0] if len(names) == 1 else f"between {', '.join(names[:-1])} and {names[-1]}"


@dataclass(frozen=True, slots=True)
class Inference:
    """Signs, never numbers, that follow from a reported flight; None where it can go either way.

    ``face_to_path``, ``face_to_target`` and ``path_to_target`` are ``left``, ``straight`` (square or near it)
    or ``right``.
    """

    face_to_path: str | None = None
    face_to_target: str | None = None
    path_to_target: str | None = None


_UNKNOWN = Inference()


def infer_signs(start: str | None, curve: str | None, *, centred: bool = True) -> Inference:
    """What a reported start and curve say of face and path at impact.

    The ball starts between path and face, so a start and a curve to the same side put the face on that side;
    a start and a curve to opposite sides put the path on the side of the start.

    Parameters
    ----------
    start, curve : {"left", "straight", "right"} or None
        As seen on the range; None where it wasn't said or goes both ways.
    centred : bool
        False for a strike off heel or toe: gear effect bends the ball too, so nothing follows.

    Returns
    -------
    Inference

    Raises
    ------
    ValueError
        If a side is unknown.

    References
    ----------
    Wood, Henrikson and Broadie 2018 (S) for the start; Jorgensen 1994 (M) for the curve; Penner 2003 and
    Cochran and Stobbs 1968 (M) for the gear effect.
    """
    for name, side in (("start", start), ("curve", curve)):
        if side is not None:
            _one_of(name, side, SIDES)
    if not centred:
        return _UNKNOWN
    if start is None or curve is None:
        return Inference(face_to_path=curve)
    if curve == STRAIGHT:
        return Inference(STRAIGHT, start, start)
    if start == curve:
        return Inference(face_to_path=curve, face_to_target=start)
    if start == _MIRROR[curve]:
        return Inference(face_to_path=curve, path_to_target=start)
    return Inference(face_to_path=curve)


def lead_or_trail(side: str, handedness: str) -> str:
    """A side of the range as ``lead``, ``straight`` or ``trail``: a right-hander's lead side is the left.

    Raises
    ------
    ValueError
        If side or handedness is unknown.
    """
    _one_of("side", side, SIDES)
    _one_of("handedness", handedness, HANDS)
    if side == STRAIGHT:
        return STRAIGHT
    return "lead" if (side == LEFT) == (handedness == "right") else "trail"


def _starts(
    velocity: Floats, normal: Floats, path_deg: float, gap_deg: float, face_share: float
) -> tuple[str, ...]:
    """Sides the start can be on, by both forms and the published span of the share."""
    shares = np.clip([face_share - SHARE_HALF_SPAN, face_share, face_share + SHARE_HALF_SPAN], 0, 1)
    found = [path_deg + float(share) * gap_deg for share in shares]
    found += [side_deg(launch_direction(velocity, normal, float(share))) for share in shares]
    return _sides(min(found), max(found), STRAIGHT_START_DEG)


def _sides(low: float, high: float, straight: float) -> tuple[str, ...]:
    first, last = _rank(low - BORDER_DEG, straight), _rank(high + BORDER_DEG, straight)
    return SIDES[first : last + 1]


def _rank(value: float, straight: float) -> int:
    if abs(value) <= straight:
        return 1
    return 2 if value > 0 else 0


def _strength(gap_deg: float) -> str:
    if abs(gap_deg) <= STRAIGHT_CURVE_DEG:
        return "none"
    if abs(gap_deg) <= MILD_DEG:
        return "mild"
    return "moderate" if abs(gap_deg) <= MODERATE_DEG else "severe"


def _angle(a: Floats, b: Floats) -> float:
    return float(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


def _unit(name: str, vector: Floats) -> Floats:
    length = float(np.linalg.norm(vector))
    if not length > 0:
        raise ValueError(f"{name} must be a vector with a length, got {vector!r}")
    return np.asarray(vector / length)


def _in_range(name: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise ValueError(f"{name} must be in {low}..{high}, got {value}")


def _one_of(name: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise ValueError(f"{name} must be one of {allowed}, got {value!r}")
