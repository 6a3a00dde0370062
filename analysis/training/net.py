"""The shaft network: inverted residuals down to stride 32, an additive decoder back to stride 4.

Input (B, 5, 256, 256): red, green, blue of the frame, brightness of the frames before and after, 0..1. Output:
maps (B, 5, 64, 64) of shaft logit, direction x and y, grip logit, head logit; and (B, 4): logits "shaft
seen" and "head seen", direction x and y. 0.62 M parameters.
"""

from __future__ import annotations

from typing import Any

import torch.nn.functional as F
from torch import nn

WIDTHS = (16, 28, 44, 80, 112)
DECODER_WIDTH = 32


def _conv(
    inputs: int, outputs: int, size: int = 3, stride: int = 1, groups: int = 1, act: bool = True
) -> Any:
    layers = [
        nn.Conv2d(inputs, outputs, size, stride, size // 2, groups=groups, bias=False),
        nn.BatchNorm2d(outputs),
    ]
    return nn.Sequential(*layers, *([nn.ReLU(inplace=True)] if act else []))


class InvertedResidual(nn.Module):
    """Widen, filter each channel on its own, narrow; added to its input where the shapes agree."""

    def __init__(self, inputs: int, outputs: int, stride: int = 1, widen: int = 3, size: int = 3) -> None:
        super().__init__()
        hidden = inputs * widen
        self.adds = stride == 1 and inputs == outputs
        self.f = nn.Sequential(
            _conv(inputs, hidden, 1),
            _conv(hidden, hidden, size, stride, hidden),
            _conv(hidden, outputs, 1, act=False),
        )

    def forward(self, x: Any) -> Any:
        """The block's output."""
        y = self.f(x)
        return x + y if self.adds else y


class ShaftNetwork(nn.Module):
    """The network; parameter names are those of the stored weights."""

    def __init__(self, widths: tuple[int, ...] = WIDTHS, decoder: int = DECODER_WIDTH) -> None:
        super().__init__()
        block = InvertedResidual
        a, b, c, e, f = widths
        self.stem = nn.Sequential(_conv(5, a, 3, 2), block(a, a, 1, 2))
        self.s4 = nn.Sequential(block(a, b, 2), block(b, b), block(b, b))
        self.s8 = nn.Sequential(block(b, c, 2), block(c, c, size=5), block(c, c, size=5))
        self.s16 = nn.Sequential(block(c, e, 2), *(block(e, e, size=5) for _ in range(3)))
        self.s32 = nn.Sequential(block(e, f, 2), block(f, f, size=5), block(f, f, size=5))
        self.l32, self.l16 = nn.Conv2d(f, e, 1), nn.Conv2d(e, e, 1)
        self.l8, self.l4 = nn.Conv2d(c, 64, 1), nn.Conv2d(b, decoder, 1)
        self.d16 = nn.Sequential(block(e, e, size=5), nn.Conv2d(e, 64, 1))
        self.d8 = nn.Sequential(block(64, 64, size=5), block(64, 64, size=5), nn.Conv2d(64, decoder, 1))
        self.d4 = nn.Sequential(
            block(decoder, decoder, widen=2, size=5),
            block(decoder, decoder, widen=2, size=5),
            _conv(decoder, decoder),
        )
        self.out = nn.Conv2d(decoder, 5, 1)
        self.glob = nn.Sequential(
            _conv(f, 192, 1),
            nn.AdaptiveAvgPool2d(1),
            nn.Flatten(),
            nn.Linear(192, 96),
            nn.ReLU(inplace=True),
            nn.Linear(96, 4),
        )

    def forward(self, x: Any) -> tuple[Any, Any]:
        """Maps and clip-level numbers of a batch."""
        x4 = self.s4(self.stem(x))
        x8 = self.s8(x4)
        x16 = self.s16(x8)
        x32 = self.s32(x16)
        y = self.d16(self.l16(x16) + _twice(self.l32(x32)))
        y = self.d8(self.l8(x8) + _twice(y))
        y = self.d4(self.l4(x4) + _twice(y))
        return self.out(y), self.glob(x32)


def _twice(x: Any) -> Any:
    return F.interpolate(x, scale_factor=2, mode="nearest")
