"""A golfer of lines, drawn from a few points: plain figures for drills. Lead limbs are solid, trail limbs dashed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import acos, atan2, cos, hypot, radians, sin

Point = tuple[float, float]

WIDTH, HEIGHT, GROUND = 240, 200, 182
INK, FAINT, ACCENT, GRASS = "#1b2a2f", "#9aa7ab", "#0b6e4f", "#c9d2cf"
THIGH, SHIN, UPPER_ARM, FOREARM, CLUB = 37.0, 38.0, 26.0, 26.0, 68.0
HEAD = 11.0


@dataclass(frozen=True)
class Pose:
    """Points in the picture, y downwards. ``club``: its direction from the hands in degrees, 0 right, 90 down."""

    pelvis: Point
    neck: Point
    hands: Point
    lead_foot: Point
    trail_foot: Point
    club: float | None = 90.0
    trail_hand: Point | None = None
    lead_heel_up: float = 0.0
    trail_heel_up: float = 0.0
    # Seen from the front, both knees bend outwards; from behind the ball line, both to the ball.
    from_side: bool = False
    club_length: float = CLUB
    head: Point | None = None


def joint(start: Point, end: Point, first: float, second: float, side: float) -> Point:
    """The elbow or knee between two ends; ``side`` 1 or -1 chooses where it bends to."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    reach = max(min(hypot(dx, dy), first + second - 0.01), abs(first - second) + 0.01)
    bend = acos((first**2 + reach**2 - second**2) / (2 * first * reach))
    angle = atan2(dy, dx) + side * bend
    return start[0] + first * cos(angle), start[1] + first * sin(angle)


def path(
    points: Iterable[Point], *, ink: str = INK, width: float = 4, dash: str = "", tip: bool = False
) -> str:
    d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    extra = f' stroke-dasharray="{dash}"' if dash else ""
    extra += ' marker-end="url(#tip)"' if tip else ""
    return (
        f'<path d="{d}" fill="none" stroke="{ink}" stroke-width="{width:g}" stroke-linecap="round" '
        f'stroke-linejoin="round"{extra}/>'
    )


def curve(start: Point, bend: Point, end: Point, *, ink: str = ACCENT, tip: bool = True) -> str:
    marker = ' marker-end="url(#tip)"' if tip else ""
    d = f"M{start[0]:g} {start[1]:g}Q{bend[0]:g} {bend[1]:g} {end[0]:g} {end[1]:g}"
    return f'<path d="{d}" fill="none" stroke="{ink}" stroke-width="3" stroke-linecap="round"{marker}/>'


def disc(centre: Point, radius: float, *, ink: str = INK, fill: str = "none", width: float = 3) -> str:
    x, y = centre
    return f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="{fill}" stroke="{ink}" stroke-width="{width:g}"/>'


def box(
    corner: Point, width: float, height: float, *, ink: str = ACCENT, fill: str = "none", round_: float = 3
) -> str:
    x, y = corner
    return (
        f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="{round_:g}" fill="{fill}" '
        f'stroke="{ink}" stroke-width="3"/>'
    )


def ball(x: float, y: float = GROUND - 4) -> str:
    return disc((x, y), 4, fill="#ffffff", width=2.5)


def stick(start: Point, end: Point) -> str:
    return path((start, end), ink=ACCENT, width=4)


def wall(x: float, *, hatch: int) -> str:
    """A wall at ``x``; ``hatch`` -1 fills its left side, 1 its right one."""
    lines = [path(((x, 40), (x, GROUND)), ink=ACCENT, width=3)]
    lines += [path(((x, y), (x + hatch * 9, y - 9)), ink=ACCENT, width=2) for y in range(54, GROUND, 16)]
    return "".join(lines)


def clubhead(pose: Pose) -> Point:
    angle = radians(pose.club or 0.0)
    return pose.hands[0] + pose.club_length * cos(angle), pose.hands[1] + pose.club_length * sin(angle)


def figure(pose: Pose, *, ink: str = INK) -> str:
    """Trail side first, so that the solid lead side lies over it."""
    half, wide = (0.0, 0.0) if pose.from_side else (7.0, 13.0)
    (px, py), (nx, ny) = pose.pelvis, pose.neck
    hips = (px - half, py), (px + half, py)
    shoulders = (nx - wide, ny + 6), (nx + wide, ny + 6)
    knees = (-1.0, -1.0) if pose.from_side else (1.0, -1.0)
    head = pose.head or (nx, ny - HEAD - 3)
    parts = [
        _leg(
            hips[0], pose.trail_foot, knees[0], pose.trail_heel_up, ink, dash="7 6", from_side=pose.from_side
        ),
        _arm(shoulders[0], pose.trail_hand or pose.hands, -1.0 if pose.from_side else 1.0, ink, dash="7 6"),
        path((pose.pelvis, pose.neck), ink=ink, width=5),
        "" if pose.from_side else path(shoulders, ink=ink, width=4) + path(hips, ink=ink, width=4),
        _leg(hips[1], pose.lead_foot, knees[1], pose.lead_heel_up, ink, dash="", from_side=pose.from_side),
        _arm(shoulders[1], pose.hands, 1.0, ink, dash=""),
        disc(head, HEAD, ink=ink, fill="#ffffff", width=4),
    ]
    if pose.club is not None:
        parts.append(_club(pose, ink))
    return "".join(parts)


def _leg(
    hip: Point, foot: Point, side: float, heel_up: float, ink: str, *, dash: str, from_side: bool
) -> str:
    ankle = foot[0], foot[1] - 4 - heel_up
    knee = joint(hip, ankle, THIGH, SHIN, side)
    points = [hip, knee, ankle]
    toe = 13.0 if from_side else 0.0
    if toe or heel_up:
        points.append((foot[0] + (toe or 5.0), foot[1] - 1))
    return path(points, ink=ink, dash=dash) + (
        "" if len(points) > 3 else path((ankle, (foot[0] + (8 if side < 0 else -8), foot[1] - 1)), ink=ink)
    )


def _arm(shoulder: Point, hand: Point, side: float, ink: str, *, dash: str) -> str:
    elbow = joint(shoulder, hand, UPPER_ARM, FOREARM, side)
    return path((shoulder, elbow, hand), ink=ink, dash=dash)


def _club(pose: Pose, ink: str) -> str:
    end = clubhead(pose)
    angle = radians((pose.club or 0.0) - 90)
    toe = end[0] + 7 * cos(angle), end[1] + 7 * sin(angle)
    return path((pose.hands, end), ink=ink, width=2.5) + path((end, toe), ink=ink, width=4)


def picture(parts: Iterable[str], title: str) -> str:
    """A whole file; it names itself for people who don't see it."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img">'
        f"<title>{title}</title>"
        f'<defs><marker id="tip" viewBox="0 0 8 8" refX="5" refY="4" markerWidth="4.5" markerHeight="4.5" '
        f'orient="auto"><path d="M0 0L8 4L0 8z" fill="{ACCENT}"/></marker></defs>'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>'
        f"{path(((8, GROUND), (WIDTH - 8, GROUND)), ink=GRASS, width=3)}{''.join(parts)}</svg>\n"
    )
