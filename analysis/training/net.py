"""The shaft network: two strided convolutions, inverted residuals down to stride 32, an additive decoder to stride 4.

Input (B, 5, 256, 256): red, green, blue of the frame, brightness of the frames before and after, 0..1. Output:
maps (B, 5, 64, 64) of shaft logit, direction x and y, grip logit, head logit; and (B, 4): logits "shaft
seen" and "head seen", direction x and y.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import torch.nn.functional as F
from torch import nn


@dataclass(frozen=True, slots=True)
class Shape:
    """How wide and deep a network is.

    ``widths`` channels at strides 2, 4, 8, 16 and 32; ``blocks`` residuals after each halving from stride 4 on;
    ``decoder`` channels at strides 4 and 8; ``decoder_blocks`` at each of the two; ``widen`` of the residuals;
    ``kernel`` of their channel-wise filters.
    """

    widths: tuple[int, int, int, int, int]
    blocks: tuple[int, int, int, int]
    decoder: tuple[int, int]
    decoder_blocks: int
    widen: int
    kernel: int


# What the product runs: half a million parameters, few of them where the maps are large, since that is where the
# processor's time goes. And one of four times its work, whose answers it learns to imitate.
SMALL = Shape((12, 24, 48, 96, 144), (2, 2, 3, 2), (32, 48), 1, 2, 5)
WIDE = Shape((16, 32, 64, 112, 160), (2, 2, 3, 2), (40, 72), 2, 3, 5)


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


def _stage(inputs: int, outputs: int, count: int, shape: Shape) -> Any:
    """Half the size, then ``count`` residuals."""
    rest = [InvertedResidual(outputs, outputs, widen=shape.widen, size=shape.kernel) for _ in range(count)]
    return nn.Sequential(InvertedResidual(inputs, outputs, 2, widen=2), *rest)


class ShaftNetwork(nn.Module):
    """The network; parameter names are those of the stored weights."""

    def __init__(self, shape: Shape = SMALL) -> None:
        super().__init__()
        block, size = InvertedResidual, shape.kernel
        a, b, c, e, f = shape.widths
        n4, n8, n16, n32 = shape.blocks
        d4, d8 = shape.decoder
        count, widen = shape.decoder_blocks, shape.widen
        self.stem = nn.Sequential(_conv(5, a, 3, 2), _conv(a, b, 3, 2))
        self.s4 = nn.Sequential(*(block(b, b, widen=widen) for _ in range(n4)))
        self.s8, self.s16 = _stage(b, c, n8, shape), _stage(c, e, n16, shape)
        self.s32 = _stage(e, f, n32, shape)
        self.l32, self.l16 = nn.Conv2d(f, e, 1), nn.Conv2d(e, e, 1)
        self.l8, self.l4 = nn.Conv2d(c, d8, 1), nn.Conv2d(b, d4, 1)
        self.d16 = nn.Sequential(block(e, e, widen=widen, size=size), nn.Conv2d(e, d8, 1))
        self.d8 = nn.Sequential(
            *(block(d8, d8, widen=widen, size=size) for _ in range(count)), nn.Conv2d(d8, d4, 1)
        )
        self.d4 = nn.Sequential(*(block(d4, d4, widen=2, size=size) for _ in range(count)))
        self.out = nn.Conv2d(d4, 5, 1)
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
