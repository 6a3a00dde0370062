"""What a media file must be before anything decodes it: container by content, codec, size; and the words of refusal."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import av
from av.container import InputContainer
from av.video.stream import VideoStream

from analysis.adapters.threads import given_threads

MAX_BYTES = 500 * 1024 * 1024
MAX_DURATION_S = 60.0
MAX_LONG_EDGE_PX = 4096
MAX_PIXELS = 4096 * 2304
MIN_SHORT_EDGE_PX = 64
MIN_FPS = 23.0
MAX_FPS = 250.0
MIN_FRAMES = 2
MIN_DURATION_S = 0.4
CODECS = ("h264", "hevc", "vp9")

# A decoder may meet a picture this large while the container is being opened; above it the size stays unread.
_MAX_PROBED_PIXELS = 2**27
_MOST_DECODER_THREADS = 4
_SNIFF_BYTES = 64


class MediaError(Exception):
    """A file was refused, with a reason a person can act on.

    Parameters
    ----------
    code : str
        Short stable name of the reason.
    sentence : str
        What is wrong and what to do next, for the person who sent the file.
    """

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence


def container_of(path: str | Path) -> str:
    """Name the container by the file's first bytes, never by its name.

    Parameters
    ----------
    path : str or Path
        A local file.

    Returns
    -------
    str
        ``"mov"`` (MP4 and QuickTime) or ``"matroska"`` (WebM and Matroska), the name of the demuxer to force.

    Raises
    ------
    MediaError
        ``missing``, ``empty``, ``photo``, ``playlist`` or ``not_video``.

    References
    ----------
    ISO/IEC 14496-12, 4.3 (``ftyp`` box); QuickTime File Format, atoms; RFC 8794, 11.2.1 (EBML header).
    """
    try:
        with open(path, "rb") as file:
            head = file.read(_SNIFF_BYTES)
    except OSError as problem:
        raise MediaError(
            "missing", "The file can't be found any more. Please send the clip again."
        ) from problem
    if not head:
        raise MediaError("empty", "This file is empty. Please send the clip again.")
    return _container_of_head(head)


def _container_of_head(head: bytes) -> str:
    if head[:4] == b"\x1a\x45\xdf\xa3":
        return "matroska"
    if head[4:8] == b"ftyp" and head[8:12] in (b"heic", b"heix", b"mif1", b"avif", b"msf1"):
        raise MediaError("photo", "This is a photo, not a video. Please choose the video of the swing.")
    if head[4:8] in (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot"):
        return "mov"
    if head.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(
        (b"#EXTM3U", b"v=0", b"<?xml", b"<MPD", b"ffconcat", b"[playlist]")
    ):
        raise MediaError(
            "playlist",
            "This file only points to a video and doesn't hold one. "
            "Please send the video itself, straight from the phone.",
        )
    raise MediaError(
        "not_video",
        "This isn't a video we can read. Please send the clip as MP4, MOV or WebM, straight from the phone.",
    )


@contextmanager
def open_container(path: str | Path) -> Iterator[InputContainer]:
    """Open a local file with the demuxer that its content asks for, without any outside reference.

    Parameters
    ----------
    path : str or Path
        A local file.

    Yields
    ------
    InputContainer
        Open until the block ends; nothing of it may be read afterwards.

    Raises
    ------
    MediaError
        As `container_of`; ``truncated`` when the table of contents or the end is missing.
    """
    container_format = container_of(path)
    # Forced format and file protocol: a description file must never be followed to the network.
    options = {"protocol_whitelist": "file", "max_pixels": str(_MAX_PROBED_PIXELS)}
    if container_format == "mov":
        options["enable_drefs"] = "0"
    try:
        container = av.open(
            f"file:{Path(path).absolute()}",
            mode="r",
            format=container_format,
            options=options,
            metadata_errors="replace",
        )
    except av.error.FFmpegError as problem:
        raise MediaError("truncated", TRUNCATED) from problem
    try:
        yield container
    finally:
        container.close()


TRUNCATED = (
    "The end of this video is missing or its beginning is damaged. "
    "Please check that it plays on the phone and send it again."
)
DAMAGED = "Parts of this video can't be decoded. Please check that it plays on the phone and send it again."


def video_stream(container: InputContainer) -> VideoStream:
    """Pick the picture track and refuse what must not be decoded.

    Parameters
    ----------
    container : InputContainer
        From `open_container`.

    Returns
    -------
    VideoStream
        With decoder threads set.

    Raises
    ------
    MediaError
        ``no_video``, ``codec``, ``too_many_pixels`` or ``too_few_pixels``.
    """
    streams = [s for s in container.streams.video if not s.disposition & s.disposition.attached_pic]
    if not streams:
        raise MediaError(
            "no_video", "There is no picture in this file, only sound. Please choose the video of the swing."
        )
    stream = streams[0]
    if stream.codec_context is None or stream.codec_context.codec.canonical_name not in CODECS:
        raise MediaError(
            "codec",
            "The picture is stored in a way we can't read. We read H.264, HEVC and VP9: "
            "please send the clip straight from the phone's camera, or save it as MP4 (H.264).",
        )
    check_size(stream.codec_context.width, stream.codec_context.height)
    stream.thread_type = "AUTO"
    stream.codec_context.thread_count = min(_MOST_DECODER_THREADS, given_threads())
    return stream


def check_size(width: int, height: int) -> None:
    """Refuse a picture that is too large to be decoded safely, or too small to hold a golfer.

    Parameters
    ----------
    width, height : int
        Pixels; 0 x 0 means larger than what the opener would read.

    Raises
    ------
    MediaError
        ``too_many_pixels`` above `MAX_LONG_EDGE_PX` or `MAX_PIXELS`; ``too_few_pixels`` below `MIN_SHORT_EDGE_PX`.
    """
    unread = width == 0 or height == 0
    if unread or max(width, height) > MAX_LONG_EDGE_PX or width * height > MAX_PIXELS:
        size = "of this video can't be read" if unread else f"is {width} x {height}"
        raise MediaError(
            "too_many_pixels",
            f"The picture size {size}; the most is 4K (4096 x 2304). Please film at 1080p and send it again.",
        )
    if min(width, height) < MIN_SHORT_EDGE_PX:
        raise MediaError(
            "too_few_pixels",
            f"The picture is only {width} x {height}. Please send the original, filmed at 720p or more.",
        )
