from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from analysis.adapters import media
from analysis.adapters.picture import UPRIGHT, Painter, make_upright
from analysis.adapters.video import MediaError, decode, frame_times, probe
from tests.analysis.adapters import footage

pytestmark = pytest.mark.unit

# (encoder, pixel format, file name, codec, bits): the formats a clip may come in.
FORMATS = [
    ("libx264", "yuv420p", "a.mp4", "h264", 8),
    ("libx264", "yuv420p", "a.mov", "h264", 8),
    ("libx265", "yuv420p", "a.mp4", "hevc", 8),
    ("libx265", "yuv420p10le", "a.mov", "hevc", 10),
    ("libvpx-vp9", "yuv420p", "a.webm", "vp9", 8),
]


@pytest.mark.parametrize("encoder, pixels, name, codec, bits", FORMATS)
def test_every_frame_of_every_format_has_its_number_and_time(
    tmp_path: Path, encoder: str, pixels: str, name: str, codec: str, bits: int
) -> None:
    path = footage.film(tmp_path / name, codec=encoder, pixels=pixels)
    found = probe(path)
    assert (found.codec, found.bit_depth, found.frame_count) == (codec, bits, 60)
    assert (found.width, found.height, found.rotation_deg) == (320, 240, 0)
    assert found.nominal_fps == pytest.approx(60.0, rel=0.01)
    assert not found.variable_rate
    assert not found.has_audio
    frames = list(decode(path))
    assert [footage.number_in(frame.rgb) for frame in frames] == list(range(60))
    assert [frame.index for frame in frames] == list(range(60))
    # WebM keeps whole milliseconds (its TimestampScale), MP4 keeps the encoder's 1/90000 s.
    tolerance = 0.00051 if name.endswith("webm") else 1.2e-5
    np.testing.assert_allclose([f.t_s for f in frames], np.arange(60) / 60, atol=tolerance)
    np.testing.assert_array_equal([f.t_s for f in frames], frame_times(path))


@pytest.mark.parametrize(
    "name, codec, options",
    [
        # As browsers record: pieces without a table of contents, without a known length.
        ("a.mp4", "libx264", {"movflags": "frag_keyframe+empty_moov+default_base_moof"}),
        ("a.webm", "libvpx-vp9", {"live": "1"}),
    ],
)
def test_recordings_without_an_index(tmp_path: Path, name: str, codec: str, options: dict[str, str]) -> None:
    path = footage.film(tmp_path / name, codec=codec, file_options=options, g="15", frames=120)
    found = probe(path)
    assert (found.frame_count, found.duration_s) == (120, pytest.approx(2.0, abs=0.02))
    part = list(decode(path, start_s=1.0, end_s=1.1))
    assert [footage.number_in(frame.rgb) for frame in part] == [60, 61, 62, 63, 64, 65]
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 4])
    with pytest.raises(MediaError) as caught:
        probe(path)
    assert caught.value.code in ("truncated", "damaged", "too_short")


@pytest.mark.parametrize("fps", [24, 25, 29.97, 120, 240])
def test_rates_from_24_to_240(tmp_path: Path, fps: float) -> None:
    found = probe(footage.film(tmp_path / "a.mp4", fps=fps, frames=int(fps)))
    assert found.nominal_fps == pytest.approx(fps, rel=1e-3)
    assert not found.variable_rate


def test_variable_rate_keeps_each_time(tmp_path: Path) -> None:
    steps = np.where(np.arange(59) % 7 == 3, 1 / 24, 1 / 60)
    times_s = np.concatenate([[0.0], np.cumsum(steps)])
    path = footage.film(tmp_path / "a.mp4", times_s=times_s.tolist())
    found = probe(path)
    assert found.variable_rate
    assert found.nominal_fps == pytest.approx(60, rel=0.01)
    np.testing.assert_allclose(frame_times(path), times_s, atol=1.2e-5)


def test_times_start_at_the_first_frame(tmp_path: Path) -> None:
    path = footage.film(tmp_path / "a.webm", codec="libvpx-vp9", times_s=[5 + k / 60 for k in range(60)])
    assert frame_times(path)[0] == 0.0
    assert frame_times(path)[-1] == pytest.approx(59 / 60, abs=0.0011)


@pytest.mark.parametrize(
    "counter_clockwise, clockwise, corner",
    [(0, 0, (-1, 0)), (-90, 90, (0, 0)), (180, 180, (0, -1)), (90, 270, (-1, -1))],
)
def test_quarter_turns_are_undone(
    tmp_path: Path, counter_clockwise: int, clockwise: int, corner: tuple[int, int]
) -> None:
    """The red corner of the stored picture (bottom left) must land where the display matrix sends it."""
    path = footage.film(tmp_path / "a.mp4", turn_deg=counter_clockwise)
    found = probe(path)
    assert found.rotation_deg == clockwise
    assert (found.width, found.height) == ((320, 240) if clockwise in (0, 180) else (240, 320))
    picture = next(decode(path)).rgb
    assert picture.shape == (found.height, found.width, 3)
    assert _is_red(picture, corner)


def test_mirrored_display_is_mirrored(tmp_path: Path) -> None:
    picture = next(decode(footage.film(tmp_path / "a.mp4", mirror=True))).rgb
    assert _is_red(picture, (-1, -1))


def _is_red(picture: np.ndarray, corner: tuple[int, int]) -> bool:
    red, green, _ = picture[
        corner[0] * 5 - (corner[0] == 0) * -5, corner[1] * 5 - (corner[1] == 0) * -5
    ].astype(int)
    return bool(red > 150 and green < 90)


@pytest.mark.parametrize(
    "turn",
    [
        UPRIGHT,
        (0, 1, -1, 0),
        (-1, 0, 0, -1),
        (0, -1, 1, 0),
        (-1, 0, 0, 1),
        (1, 0, 0, -1),
        (0, 1, 1, 0),
        (0, -1, -1, 0),
    ],
)
def test_turns_agree_with_the_matrix_equation(turn: tuple[int, int, int, int]) -> None:
    """x' = a x + c y, y' = b x + d y about the centre (ISO/IEC 14496-12, track header matrix), pixel by pixel."""
    a, b, c, d = turn
    rng = np.random.default_rng(1)
    stored = rng.integers(0, 256, (3, 5, 3), dtype=np.uint8)
    wanted = np.zeros((5, 3, 3) if a == 0 else (3, 5, 3), np.uint8)
    for y in range(3):
        for x in range(5):
            u, v = x - 2.0, y - 1.0
            to_x = a * u + c * v + (wanted.shape[1] - 1) / 2
            to_y = b * u + d * v + (wanted.shape[0] - 1) / 2
            wanted[int(to_y), int(to_x)] = stored[y, x]
    np.testing.assert_array_equal(make_upright(stored, turn), wanted)


def test_shrinks_to_the_long_edge_and_never_enlarges(tmp_path: Path) -> None:
    path = footage.film(tmp_path / "a.mp4", size=(240, 320))
    assert next(decode(path, long_edge=160)).rgb.shape == (160, 120, 3)
    assert next(decode(path, long_edge=1000)).rgb.shape == (320, 240, 3)


def test_a_part_of_the_clip_has_the_same_indices_and_times(tmp_path: Path) -> None:
    path = footage.film(tmp_path / "a.mp4", frames=120, g="30", bf="3")
    whole = {frame.index: frame.t_s for frame in decode(path)}
    part = list(decode(path, start_s=0.75, end_s=1.0, every=3))
    assert [frame.index for frame in part] == [45, 48, 51, 54, 57]
    assert all(whole[frame.index] == frame.t_s for frame in part)
    assert [footage.number_in(frame.rgb) for frame in part] == [45, 48, 51, 54, 57]


def test_out_of_range_arguments_name_the_range(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="every must be at least 1, got 0"):
        decode(tmp_path / "a.mp4", every=0)
    with pytest.raises(ValueError, match="long_edge must be at least 16"):
        decode(tmp_path / "a.mp4", long_edge=4)


def test_colours_of_a_bt709_picture(tmp_path: Path) -> None:
    """ITU-R BT.709-6, item 3: Y' = 0.2126 R' + 0.7152 G' + 0.0722 B'; 8-bit levels of item 4."""
    rgb = np.array([200, 60, 30]) / 255
    luma = rgb @ [0.2126, 0.7152, 0.0722]
    blue, red = (rgb[2] - luma) / 1.8556, (rgb[0] - luma) / 1.5748
    planes = np.empty((96, 64), np.uint8)
    planes[:64] = round(16 + 219 * luma)
    planes[64:80], planes[80:] = round(128 + 224 * blue), round(128 + 224 * red)
    frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
    frame.colorspace, frame.color_range = 1, 1
    np.testing.assert_allclose(
        Painter().paint(frame, 64, 64, "rgb24").to_ndarray()[30, 30], [200, 60, 30], atol=3
    )


# ITU-R BT.2408: HDR reference white is 58 % of the PQ and 75 % of the HLG signal; black stays black.
@pytest.mark.parametrize("transfer, white_share", [(16, 0.58), (18, 0.75)])
def test_hdr_reference_white_becomes_white(transfer: int, white_share: float) -> None:
    painter = Painter()

    def level(share: float) -> int:
        planes = np.full((96, 64), 512, np.uint16)
        planes[:64] = round(64 + 876 * share)
        frame = av.VideoFrame.from_ndarray(planes, format="yuv420p10le")
        frame.color_primaries, frame.color_trc, frame.colorspace, frame.color_range = 9, transfer, 9, 1
        return int(painter.paint(frame, 64, 64, "rgb24").to_ndarray()[30, 30, 1])

    assert level(white_share) >= 245
    assert level(0.0) <= 5
    middle = [level(share) for share in np.linspace(0.1, white_share - 0.1, 5)]
    assert middle == sorted(middle)
    assert 20 < middle[2] < 220


def test_hdr_clip_is_recognised(tmp_path: Path) -> None:
    path = footage.film(tmp_path / "a.mov", codec="libx265", pixels="yuv420p10le", tag=(9, 18, 9))
    found = probe(path)
    assert (found.hdr, found.bit_depth) == (True, 10)
    assert next(decode(path)).rgb.dtype == np.uint8


def test_capture_rate_of_a_stretched_slow_motion_file(tmp_path: Path) -> None:
    """The key is Android's, documented with MediaFormat.KEY_CAPTURE_RATE; the file plays 240 fps at 30."""
    path = footage.film(
        tmp_path / "a.mp4",
        fps=30,
        metadata={"com.android.capture.fps": "240.0"},
        file_options={"movflags": "use_metadata_tags"},
    )
    found = probe(path)
    assert (found.capture_fps, found.nominal_fps) == (240.0, pytest.approx(30.0))


def refusal(path: Path) -> str:
    with pytest.raises(MediaError) as caught:
        probe(path)
    assert caught.value.sentence.endswith(".")
    assert "lease " in caught.value.sentence, "says what to do"
    return caught.value.code


@pytest.mark.parametrize(
    "content, code",
    [
        (b"", "empty"),
        (b"hello, this is a letter\n" * 50, "not_video"),
        (b"\x89PNG\r\n\x1a\n" + bytes(200), "not_video"),
        (b"\0\0\0\x18ftypheic" + bytes(200), "photo"),
        (b"#EXTM3U\n#EXT-X-VERSION:3\nhttp://192.0.2.1/a.ts\n", "playlist"),
        (
            b"v=0\r\no=- 0 0 IN IP4 192.0.2.1\r\ns=x\r\nc=IN IP4 192.0.2.1\r\nm=video 5004 RTP/AVP 96\r\n",
            "playlist",
        ),
        (b"ffconcat version 1.0\nfile /etc/hostname\n", "playlist"),
        (b"\0\0\0\x18ftypisom" + bytes(2000), "truncated"),
        (b"\x1a\x45\xdf\xa3" + bytes(range(256)) * 8, "truncated"),
    ],
)
def test_what_is_no_video_is_refused_whatever_its_name(tmp_path: Path, content: bytes, code: str) -> None:
    path = tmp_path / "swing.mp4"
    path.write_bytes(content)
    assert refusal(path) == code


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path / "none.mp4") == "missing"


def test_sound_only_is_refused(tmp_path: Path) -> None:
    assert refusal(footage.sound_only(tmp_path / "a.mp4")) == "no_video"


@pytest.mark.parametrize(
    "encoder, pixels, name", [("libvpx", "yuv420p", "a.webm"), ("mjpeg", "yuvj420p", "a.mov")]
)
def test_other_codecs_are_refused(tmp_path: Path, encoder: str, pixels: str, name: str) -> None:
    assert refusal(footage.film(tmp_path / name, codec=encoder, pixels=pixels)) == "codec"


@pytest.mark.parametrize(
    "name, options, share",
    [
        ("a.mp4", {}, 0.3),
        ("a.mp4", {}, 0.97),
        ("a.mp4", {"movflags": "faststart"}, 0.3),
        ("a.mp4", {"movflags": "faststart"}, 0.97),
        # WebM has no table of samples: what is missing shows only when it is more than a fifth.
        ("a.webm", {}, 0.3),
        ("a.webm", {}, 0.7),
    ],
)
def test_a_truncated_file_is_refused(
    tmp_path: Path, name: str, options: dict[str, str], share: float
) -> None:
    codec = "libvpx-vp9" if name.endswith("webm") else "libx264"
    path = footage.film(tmp_path / name, codec=codec, file_options=options, frames=150)
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * share)])
    assert refusal(path) == "truncated"


def test_one_frame_and_too_short(tmp_path: Path) -> None:
    assert refusal(footage.film(tmp_path / "one.mp4", frames=1)) == "one_frame"
    assert refusal(footage.film(tmp_path / "few.mp4", frames=10)) == "too_short"


@pytest.mark.parametrize("name, codec", [("a.mp4", "libx264"), ("a.webm", "libvpx-vp9")])
def test_three_hours_are_refused(tmp_path: Path, name: str, codec: str) -> None:
    path = footage.film(tmp_path / name, codec=codec, times_s=[0, 3600, 7200, 10800])
    with pytest.raises(MediaError, match="This clip is 3 hours long; the most is 60 seconds"):
        probe(path)


def test_sixty_seconds_pass_and_seventy_do_not(tmp_path: Path) -> None:
    assert probe(
        footage.film(tmp_path / "a.mp4", fps=24, frames=24 * 60, size=(64, 64))
    ).duration_s == pytest.approx(60)
    assert refusal(footage.film(tmp_path / "b.mp4", fps=24, frames=24 * 70, size=(64, 64))) == "too_long"


def test_frame_rate_outside_the_limits(tmp_path: Path) -> None:
    assert refusal(footage.film(tmp_path / "a.mp4", fps=10, frames=30)) == "rate_too_low"
    assert refusal(footage.film(tmp_path / "b.mp4", fps=480, frames=480, size=(64, 64))) == "rate_too_high"


def test_huge_pictures_are_refused_before_they_are_decoded(tmp_path: Path) -> None:
    path = tmp_path / "a.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30, options={"preset": "ultrafast"})
        stream.width = stream.height = 10_000
        stream.pix_fmt = "yuv420p"
        frame = av.VideoFrame(10_000, 10_000, "yuv420p")
        frame.pts, frame.time_base = 0, Fraction(1, 30)
        container.mux(stream.encode(frame))
        container.mux(stream.encode())
    with pytest.raises(MediaError, match="The picture size is 10000 x 10000; the most is 4K"):
        probe(path)


@pytest.mark.parametrize(
    "size, code",
    [((4098, 100), "too_many_pixels"), ((0, 0), "too_many_pixels"), ((40, 200), "too_few_pixels")],
)
def test_picture_size_limits(size: tuple[int, int], code: str) -> None:
    with pytest.raises(MediaError) as caught:
        media.check_size(*size)
    assert caught.value.code == code


def test_the_largest_allowed_picture_passes() -> None:
    media.check_size(4096, 2304)
    media.check_size(2160, 3840)


def test_scrambled_pictures_are_refused_while_decoding(tmp_path: Path) -> None:
    path = footage.film(tmp_path / "a.mp4", frames=120, g="1")
    with av.open(str(path)) as container:
        places = [(entry.pos, entry.size) for entry in container.streams.video[0].index_entries]
    content = bytearray(path.read_bytes())
    for place, size in places[20:100]:
        content[place + 4 : place + size] = bytes(size - 4)
    path.write_bytes(content)
    with pytest.raises(MediaError) as caught:
        list(decode(path))
    assert caught.value.code == "damaged"
