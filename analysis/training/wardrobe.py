"""Random clothes, clubs and light for training samples."""

from __future__ import annotations

import numpy as np

from analysis.training.clothes import Dressed
from analysis.training.golf_club import METAL, SMOOTH, DrawnClub
from analysis.training.light import Light
from analysis.training.looks import Look
from analysis.training.set_pieces import random_colour
from analysis.types import Floats

_SKINS = (
    (0.72, 0.50, 0.38),
    (0.62, 0.40, 0.29),
    (0.52, 0.33, 0.22),
    (0.33, 0.19, 0.12),
    (0.20, 0.12, 0.08),
    (0.80, 0.60, 0.48),
)
Colour = tuple[float, float, float]


def _colour(values: Floats) -> Colour:
    a, b, c = (float(v) for v in values)
    return a, b, c


def random_clothes(dressed: Dressed, draw: np.random.Generator) -> tuple[Floats, Floats]:
    """Vertex colours and materials: any skin, clothes, glove or none, long sleeves, shorts, stripes."""
    skin = np.array(_SKINS[draw.integers(len(_SKINS))]) * draw.uniform(0.8, 1.15)
    hair = random_colour(draw) * 0.3
    look = Look(
        skin=_colour(skin),
        shirt=_colour(random_colour(draw)),
        trousers=_colour(random_colour(draw)),
        shoe=_colour(random_colour(draw)),
        cap=_colour(random_colour(draw) if draw.random() < 0.7 else hair),
        hair=_colour(hair),
        glove=_colour(random_colour(draw) if draw.random() < 0.5 else skin),
        stripe=(1.0, 1.0, 1.0) if draw.random() < 0.2 else None,
    )
    colours = dressed.colours(look)
    rest, height = dressed.rest, dressed.body.height / 1.75
    if draw.random() < 0.25:
        arms = (dressed.labels == "skin") & (np.abs(rest[:, 0]) > 0.2) & (rest[:, 2] < 1.6 * height)
        colours[arms] = look.shirt if draw.random() < 0.6 else random_colour(draw)
    if draw.random() < 0.3:
        colours[(dressed.labels == "trousers") & (rest[:, 2] < 0.5 * height)] = skin
    return colours, dressed.materials(look)


def random_club(length: float, draw: np.random.Generator) -> DrawnClub:
    """Steel, dark, light or coloured shafts with any grip and head."""
    kind, tip = draw.random(), draw.uniform(0.0036, 0.0052)
    if kind < 0.45:
        shaft, material = np.full(3, draw.uniform(0.25, 0.65)) + draw.normal(size=3) * 0.02, METAL
    elif kind < 0.72:
        shaft, material = np.full(3, draw.uniform(0.008, 0.05)), SMOOTH
    elif kind < 0.83:
        shaft, material = np.full(3, draw.uniform(0.6, 0.9)), SMOOTH
    else:
        shaft, material = random_colour(draw), SMOOTH
    wood = draw.random() < (0.85 if length > 1.0 else 0.05)
    steel, dark = np.full(3, draw.uniform(0.15, 0.6)), np.full(3, draw.uniform(0.01, 0.08))
    head = steel if draw.random() < 0.5 and not wood else random_colour(draw) if draw.random() < 0.4 else dark
    return DrawnClub(
        length=length,
        wood=wood,
        grip_length=draw.uniform(0.23, 0.30),
        grip_radius=draw.uniform(0.0105, 0.0155),
        butt_radius=tip + draw.uniform(0.0015, 0.004),
        tip_radius=tip,
        shaft_colour=_colour(np.clip(shaft, 0, 1)),
        shaft_material=material,
        grip_colour=_colour(
            np.full(3, draw.uniform(0.01, 0.06)) if draw.random() < 0.7 else random_colour(draw)
        ),
        head_colour=_colour(head),
        head_material=METAL if draw.random() < 0.5 else SMOOTH,
        head_scale=draw.uniform(0.8, 1.25),
        band=_colour(random_colour(draw)) if draw.random() < 0.3 else None,
    )


def random_light(ball_y: float, draw: np.random.Generator) -> Light:
    """Any sun, warm or cold; green or odd ground; with a scene of its own or for a flat picture behind."""
    turn, up = draw.uniform(0, 2 * np.pi), np.radians(draw.uniform(15, 80))
    warm = draw.normal() * 0.12
    strong = draw.uniform(0.1, 0.8) if draw.random() < 0.4 else draw.uniform(1.0, 3.0)
    sky = draw.uniform(0.3, 1.1)
    grass = np.array([0.08, 0.12, 0.035]) if draw.random() < 0.55 else random_colour(draw) * 0.4
    mat = random_colour(draw) * 0.4
    return Light(
        sun=(float(np.cos(turn) * np.cos(up)), float(np.sin(turn) * np.cos(up)), float(np.sin(up))),
        sun_colour=_colour(strong * np.array([1 + warm, 1, 1 - warm])),
        sky=_colour(sky * np.array([0.95, 1, 1.05 + 0.3 * draw.random()])),
        bounce=_colour(0.35 * sky * random_colour(draw) + 0.08),
        sky_top=_colour(random_colour(draw)) if draw.random() < 0.4 else (0.25, 0.45, 0.8),
        sky_horizon=_colour(random_colour(draw)) if draw.random() < 0.3 else (0.75, 0.8, 0.88),
        softness=float(10 ** draw.uniform(-3, -1.8)),
        backdrop=int(draw.integers(3)),
        grass_dark=_colour(grass * draw.uniform(0.2, 0.8)),
        grass_light=_colour(grass * draw.uniform(0.9, 1.8)),
        mat_dark=_colour(mat * 0.5),
        mat_light=_colour(mat * 1.2),
        mat_centre=(0.0, ball_y * 0.72) if draw.random() < 0.5 else (99.0, 99.0),
        stripe=_colour(random_colour(draw)),
        seed=float(draw.uniform(0, 17)),
        opaque=draw.random() < 0.5,
    )
