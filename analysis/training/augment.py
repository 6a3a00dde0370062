"""Changes drawn anew each time a sample is seen: place, size, mirror, colour, motion, noise, hidden patches."""

from __future__ import annotations

import math
from typing import Any

import torch
import torch.nn.functional as F

from analysis.training.labels import SIDE

_GREY = (0.299, 0.587, 0.114)


def augmented(pictures: Any, labels: Any) -> tuple[Any, Any]:
    """Changed pictures 0..1 (B, 5, S, S) and the points grip, head, butt in them (B, 3, 2).

    Parameters
    ----------
    pictures : tensor of shape (B, 5, S, S)
        uint8.
    labels : tensor of shape (B, 40)
    """
    x = pictures.float() / 255
    x, points = _moved(x, torch.stack([labels[:, 0:6:2], labels[:, 1:6:2]], 2))
    x = _other_motion(_other_light(x))
    x = _hidden(_blurred(_noisy(x)))
    return x.clamp(0, 1), points


def _normal(x: Any, spread: float, channels: int = 1) -> Any:
    return torch.randn(len(x), channels, 1, 1, device=x.device) * spread


def _chance(x: Any, p: float) -> Any:
    return torch.rand(len(x), 1, 1, 1, device=x.device) < p


def _moved(x: Any, points: Any) -> tuple[Any, Any]:
    """Scaled by 10 %, turned by 4 degrees, shifted by 4 % (one spread each), mirrored in half of the cases."""
    count, device = len(x), x.device

    def spread(s: float) -> Any:
        return torch.randn(count, device=device) * s

    scale, turn = torch.exp(spread(0.10)), spread(math.radians(4))
    mirror = torch.where(torch.rand(count, device=device) < 0.5, 1.0, -1.0)
    c, s = torch.cos(turn) * scale, torch.sin(turn) * scale
    rows = [torch.stack([c * mirror, -s, spread(0.04)], 1), torch.stack([s * mirror, c, spread(0.04)], 1)]
    to_input = torch.stack(rows, 1)
    grid = F.affine_grid(to_input, x.shape, align_corners=False)
    x = F.grid_sample(x, grid, mode="bilinear", align_corners=False)
    unit = (points + 0.5) / SIDE * 2 - 1
    back = torch.linalg.inv(to_input[:, :, :2])
    unit = (unit - to_input[:, None, :, 2]) @ back.transpose(1, 2)
    return x, (unit + 1) / 2 * SIDE - 0.5


def _grey(x: Any) -> Any:
    return (x[:, :3] * torch.tensor(_GREY, device=x.device).view(1, 3, 1, 1)).sum(1, keepdim=True)


def _other_light(x: Any) -> Any:
    bright, gamma = torch.exp(_normal(x, 0.18)), torch.exp(_normal(x, 0.15))
    tint = torch.cat([torch.exp(_normal(x, 0.07, 3)), torch.ones(len(x), 2, 1, 1, device=x.device)], 1)
    return x.clamp_min(1e-4) ** gamma * bright * tint + _normal(x, 0.04)


def _other_motion(x: Any) -> Any:
    """Grey pictures, time turned round, and no motion at all."""
    grey = _grey(x)
    colour = torch.where(_chance(x, 0.08), grey.expand(-1, 3, -1, -1), x[:, :3])
    around = torch.where(_chance(x, 0.5), x[:, 3:].flip(1), x[:, 3:])
    around = torch.where(_chance(x, 0.12), grey.expand(-1, 2, -1, -1), around)
    return torch.cat([colour, around], 1)


def _noisy(x: Any) -> Any:
    level = torch.rand(len(x), 1, 1, 1, device=x.device) * 0.03 * _chance(x, 0.4)
    return x + torch.randn_like(x) * level


def _blurred(x: Any) -> Any:
    soft = F.avg_pool2d(F.pad(x, (1, 1, 1, 1), mode="replicate"), 3, 1)
    return torch.where(_chance(x, 0.15), soft, x)


def _hidden(x: Any) -> Any:
    """Up to two flat patches: the club may vanish behind something."""
    count, device = len(x), x.device
    line = torch.arange(SIDE, device=device)
    for _ in range(2):
        cx, cy = torch.rand(2, count, 1, 1, device=device) * SIDE
        half_w, half_h = torch.rand(2, count, 1, 1, device=device) * 26 + 4
        inside = ((line[None, None, :] - cx).abs() < half_w) & ((line[None, :, None] - cy).abs() < half_h)
        inside = inside[:, None] & _chance(x, 0.25)
        x = torch.where(inside, torch.rand(count, 5, 1, 1, device=device), x)
    return x
