"""Decoded pictures brought to one form: upright, 8 bit, BT.709."""

from __future__ import annotations

from collections.abc import Iterable
from typing import cast

import cv2
import numpy as np
from av import VideoFrame
from av.sidedata.sidedata import SideData
from av.video.reformatter import ColorPrimaries, ColorRange, Colorspace, ColorTrc, VideoReformatter
from numpy.typing import NDArray

HDR_TRANSFERS = (ColorTrc.SMPTE2084, ColorTrc.ARIB_STD_B67)

_UNSPECIFIED = 2  # ISO/IEC 23091-2: value 2 of matrix coefficients, transfer and primaries
_RGB_MATRIX = 0
_SD_SHORT_EDGE_PX = 576

Turn = tuple[int, int, int, int]
UPRIGHT: Turn = (1, 0, 0, 1)

_CV_TURNS: dict[Turn, int] = {
    (0, 1, -1, 0): cv2.ROTATE_90_CLOCKWISE,
    (-1, 0, 0, -1): cv2.ROTATE_180,
    (0, -1, 1, 0): cv2.ROTATE_90_COUNTERCLOCKWISE,
}
_CV_FLIPS: dict[Turn, int] = {(-1, 0, 0, 1): 1, (1, 0, 0, -1): 0}
_DEGREES: dict[Turn, int] = {
    UPRIGHT: 0,
    (0, 1, -1, 0): 90,
    (-1, 0, 0, -1): 180,
    (0, -1, 1, 0): 270,
    (-1, 0, 0, 1): 0,
    (1, 0, 0, -1): 180,
    (0, 1, 1, 0): 90,
    (0, -1, -1, 0): 270,
}


def turn_of(frame: VideoFrame) -> Turn:
    """Orientation the file asks for, snapped to quarter turns and mirrorings.

    Parameters
    ----------
    frame : VideoFrame
        A decoded picture with its display matrix, if the file has one.

    Returns
    -------
    tuple of int
        ``(a, b, c, d)`` of the display matrix, each -1, 0 or 1: x' = a x + c y, y' = b x + d y, y down.

    References
    ----------
    ISO/IEC 14496-12, 8.3.2 (track header matrix); FFmpeg, ``libavutil/display.h``.
    """
    for side in cast(Iterable[SideData], frame.side_data):
        if side.type.name == "DISPLAYMATRIX":
            a, b, _, c, d = np.frombuffer(bytes(side), dtype=np.int32)[:5].astype(float)
            if abs(a) + abs(d) >= abs(b) + abs(c):
                b = c = 0.0
            else:
                a = d = 0.0
            turn = (int(np.sign(a)), int(np.sign(b)), int(np.sign(c)), int(np.sign(d)))
            return turn if turn in _DEGREES else UPRIGHT
    return UPRIGHT


def degrees_of(turn: Turn) -> int:
    """Clockwise turn that makes the stored picture upright, mirroring left out.

    Parameters
    ----------
    turn : tuple of int
        From `turn_of`.

    Returns
    -------
    int
        0, 90, 180 or 270 degrees.
    """
    return _DEGREES[turn]


def swaps_sides(turn: Turn) -> bool:
    """Whether the upright picture's width is the stored picture's height.

    Parameters
    ----------
    turn : tuple of int
        From `turn_of`.

    Returns
    -------
    bool
    """
    return turn[0] == 0


def make_upright(rgb: NDArray[np.uint8], turn: Turn) -> NDArray[np.uint8]:
    """Turn and mirror a picture.

    Parameters
    ----------
    rgb : ndarray of shape (H, W, 3), uint8
    turn : tuple of int
        From `turn_of`.

    Returns
    -------
    ndarray of shape (H, W, 3) or (W, H, 3), uint8
        The same array when there is nothing to do.
    """
    if turn == UPRIGHT:
        return rgb
    if turn in _CV_TURNS:
        return np.asarray(cv2.rotate(rgb, _CV_TURNS[turn]), dtype=np.uint8)
    if turn in _CV_FLIPS:
        return np.asarray(cv2.flip(rgb, _CV_FLIPS[turn]), dtype=np.uint8)
    swapped = cv2.transpose(rgb)
    if turn == (0, -1, -1, 0):
        swapped = cv2.flip(swapped, -1)
    return np.asarray(swapped, dtype=np.uint8)


def is_hdr(frame: VideoFrame) -> bool:
    """Whether the picture uses a high-dynamic-range transfer (PQ or HLG).

    Parameters
    ----------
    frame : VideoFrame

    Returns
    -------
    bool

    References
    ----------
    ITU-R BT.2100-2.
    """
    return frame.color_trc in HDR_TRANSFERS


class Painter:
    """Brings the pictures of one clip to one size and to 8-bit BT.709.

    Notes
    -----
    Keep one for a whole clip: the table behind the tone mapping takes more than a second to make.
    A picture without a colour description is read as BT.601 up to 576 lines and BT.709 above, as browsers do
    (common practice, no standard).

    References
    ----------
    ITU-R BT.709-6; BT.2100-2; BT.2408 (HDR reference white becomes white).
    """

    def __init__(self) -> None:
        self._shrink = VideoReformatter()
        self._convert = VideoReformatter()
        self._angle: float | None = None
        self._turn: Turn = UPRIGHT

    def turn(self, frame: VideoFrame) -> Turn:
        """As `turn_of`; asked of a frame only where its angle is another than the one before's.

        Parameters
        ----------
        frame : VideoFrame

        Returns
        -------
        tuple of int

        Notes
        -----
        A frame that was asked for its side data refers to itself, and stays until the garbage collector comes by: at
        4K, a dozen megabytes each.
        """
        if frame.rotation != self._angle:
            self._angle, self._turn = frame.rotation, turn_of(frame)
        return self._turn

    def paint(self, frame: VideoFrame, width: int, height: int, pixel_format: str) -> VideoFrame:
        """Scale and convert one picture.

        Parameters
        ----------
        frame : VideoFrame
            Any bit depth and matrix; PQ and HLG pictures are tone-mapped, others keep their transfer.
        width, height : int
            Pixels of the result, in the stored orientation.
        pixel_format : str
            ``"rgb24"`` (full range) or ``"yuv420p"`` (limited range).

        Returns
        -------
        VideoFrame
        """
        source, hdr = frame, is_hdr(frame)
        if (frame.width, frame.height) != (width, height):
            # Both in one go take four times as long; and tone mapping costs by the size it begins with.
            source = self._shrink.reformat(frame, width=width, height=height, threads=1)
        return self._convert.reformat(
            source,
            width=width,
            height=height,
            format=pixel_format,
            src_colorspace=_matrix_of(frame),
            dst_colorspace=Colorspace.ITU709,
            dst_color_range=ColorRange.JPEG if pixel_format == "rgb24" else ColorRange.MPEG,
            dst_color_trc=ColorTrc.BT709 if hdr else None,
            dst_color_primaries=ColorPrimaries.BT709 if hdr else None,
            threads=1,
        )


def _matrix_of(frame: VideoFrame) -> int | None:
    if frame.colorspace not in (_UNSPECIFIED, _RGB_MATRIX):
        return None
    standard = min(frame.width, frame.height) <= _SD_SHORT_EDGE_PX
    return int(Colorspace.ITU601 if standard else Colorspace.ITU709)
