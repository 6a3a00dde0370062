"""A talk as a film: the right picture at the right time, drawings where they are in the browser, the voice in step."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest

from analysis.adapters.audio import read_audio
from analysis.adapters.following import followed
from analysis.adapters.mark_painter import INK, MarkPainter, caption
from analysis.adapters.overlay_fit import Fit, fit_over, laid_over, stance_at
from analysis.adapters.rendition import RENDITION, render_to_dir
from analysis.adapters.talk_film import FILM_FPS, film_to_dir
from analysis.adapters.talkline import TalkReader, place_at
from analysis.adapters.voice import RATE_HZ, encode_voice
from tests.analysis.adapters.footage import film, number_in

CLIP_FPS = 60
CASES = Path(__file__).resolve().parents[2] / "js" / "overlay_cases.json"


@pytest.fixture(scope="module")
def rendition(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("clip")
    film(folder / "source.mp4", frames=120, size=(360, 640))
    render_to_dir(str(folder / "source.mp4"), str(folder), lambda stage, percent: None)
    return folder / RENDITION


def place(ms: int, us: int, rate: float) -> dict[str, Any]:
    return {"ms": ms, "kind": "place", "swing": "s", "us": us, "rate": rate}


def mark(kind: str, points: list[list[float]], label: str = "") -> dict[str, Any]:
    return {
        "uid": "m",
        "swing": "s",
        "kind": kind,
        "points": points,
        "from_us": 0,
        "to_us": 2_000_000,
        "label": label,
        "note": "",
    }


def made(folder: Path, rendition: Path, events: list[dict[str, Any]], duration_ms: int) -> Path:
    sound = np.zeros(round(duration_ms * RATE_HZ / 1000), dtype=np.float32)
    for at_s in np.arange(0.5, duration_ms / 1000 - 0.1, 0.5):
        start = round(at_s * RATE_HZ)
        sound[start : start + 96] = 0.8 * np.hanning(96)
    encode_voice(sound, folder / "talk.m4a")
    clips = {"s": {"path": str(rendition), "span_us": [0, 2_000_000]}}
    timeline = {"duration_ms": duration_ms, "events": events}
    film_to_dir(clips, timeline, str(folder / "talk.m4a"), str(folder), lambda stage, percent: None)
    return folder / "film.mp4"


def pictures(path: Path) -> list[np.ndarray]:
    with av.open(str(path)) as container:
        return [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]


def test_every_picture_is_the_one_of_its_time(
    tmp_path: Path, rendition: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Standing, slow, full speed, backwards and a jump, with frame numbers burnt into the clip."""
    events = [
        place(0, 508_000, 0),
        place(500, 508_000, 0.25),
        place(1500, 758_000, 1),
        place(2200, 1_458_000, -0.5),
        place(3200, 1_900_000, 0),
    ]
    began = time.process_time()
    path = made(tmp_path, rendition, events, 3500)
    spent = time.process_time() - began
    shown = pictures(path)
    assert len(shown) == 3.5 * FILM_FPS
    reader, off = TalkReader(events), []
    for number, picture in enumerate(shown):
        ms = 1000 * number / FILM_FPS
        wanted = place_at(reader.at(ms), ms)
        assert wanted is not None
        off.append(number_in(picture) - int(wanted["us"] * CLIP_FPS / 1e6 + 1e-6))
    with capsys.disabled():
        print(
            f"\nfilm: {sum(map(bool, off))} of {len(off)} pictures off; {spent:.1f} s of processor for 3.5 s"
        )
    assert not any(off)


def test_a_film_of_full_size_takes_no_longer_than_the_talk_on_two_cores(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """720 x 1280 at 60 pictures a second, played, run backwards and drawn upon all along: processor time, no clock."""
    film(tmp_path / "source.mp4", frames=120, size=(720, 1280))
    render_to_dir(str(tmp_path / "source.mp4"), str(tmp_path), lambda stage, percent: None)
    drawn = [
        mark("line", [[0.2, 0.2], [0.7, 0.8]]),
        mark("ellipse", [[0.4, 0.4], [0.6, 0.5]]) | {"uid": "n", "is_dashed": True},
    ]
    events = [place(0, 0, 1), *({"ms": 0, "kind": "put", "mark": one} for one in drawn)]
    events += [place(2000, 1_900_000, -0.5), place(5000, 400_000, 0.25)]
    began = time.process_time()
    made(tmp_path, tmp_path / RENDITION, events, 8000)
    spent = time.process_time() - began
    with capsys.disabled():
        print(
            f"\nfilm of 720 x 1280: {spent:.1f} s of processor for 8 s of talk, {16 / spent:.1f} x on two cores"
        )
    assert spent < 2 * 8


def test_the_voice_is_in_step_with_the_pictures(tmp_path: Path, rendition: Path) -> None:
    path = made(tmp_path, rendition, [place(0, 0, 1)], 3000)
    audio = read_audio(path, RATE_HZ)
    assert audio is not None
    loud = np.flatnonzero(np.abs(audio.samples) > 0.3)
    first = loud[np.flatnonzero(np.diff(loud, prepend=-RATE_HZ) > 0.1 * RATE_HZ)]
    heard = first / RATE_HZ + audio.start_s
    assert heard == pytest.approx(np.arange(0.5, 2.9, 0.5), abs=0.03)


def test_drawings_grow_and_go(tmp_path: Path, rendition: Path) -> None:
    stroke = mark("path", [[0.2, 0.6], [0.3, 0.6]])
    events = [
        place(0, 1_000_000, 0),
        {"ms": 500, "kind": "grow", "mark": stroke},
        {"ms": 800, "kind": "more", "points": [[0.5, 0.6], [0.8, 0.6]]},
        {"ms": 1200, "kind": "put", "mark": {**stroke, "points": [[0.2, 0.6], [0.8, 0.6]]}},
        {"ms": 1700, "kind": "gone", "uid": "m"},
    ]
    shown = pictures(made(tmp_path, rendition, events, 2200))
    bare = shown[0].astype(int)
    width = [np.ptp(np.flatnonzero(np.abs(p - bare).max(axis=(0, 2)) > 60)) if np.abs(p - bare).max() > 60 else 0
             for p in (shown[round(s * FILM_FPS)] for s in (0.3, 0.6, 1.0, 1.5, 2.0))]  # fmt: skip
    size = bare.shape[1]
    assert width[0] == width[4] == 0
    assert width[1] == pytest.approx(0.1 * size, abs=0.03 * size)
    assert width[2] == width[3] == pytest.approx(0.6 * size, abs=0.03 * size)


def test_a_swing_without_a_clip_is_refused(tmp_path: Path) -> None:
    timeline = {"duration_ms": 500, "events": [{**place(0, 0, 0), "swing": "other"}]}
    with pytest.raises(ValueError, match="timeline must show swings among"):
        film_to_dir({}, timeline, "none", str(tmp_path), lambda stage, percent: None)


@pytest.mark.parametrize("kind", ["line", "arrow", "ellipse", "angle", "path", "text"])
def test_each_kind_is_painted_inside_its_own_box(kind: str) -> None:
    points = {"text": [[0.4, 0.5]], "angle": [[0.4, 0.4], [0.5, 0.6], [0.6, 0.4]]}.get(
        kind, [[0.4, 0.4], [0.6, 0.6]]
    )
    before = np.full((640, 360, 3), 90, dtype=np.uint8)
    after = MarkPainter().painted(before, [mark(kind, points, "Hüfte" if kind == "text" else "")])
    rows, columns = np.nonzero(np.abs(after.astype(int) - before).max(2) > 40)
    assert rows.size
    assert rows.min() > 0.35 * 640 and rows.max() < 0.65 * 640
    assert columns.min() > 0.35 * 360 and columns.max() < 0.72 * 360
    assert (before == 90).all()


def test_a_line_lies_where_the_reference_library_draws_it() -> None:
    """cv2.line with whole pixels, as a plain check of the sub-pixel shift."""
    after = MarkPainter().painted(
        np.zeros((400, 400, 3), np.uint8), [mark("line", [[0.25, 0.5], [0.75, 0.5]])]
    )
    plain = cv2.line(np.zeros((400, 400), np.uint8), (100, 200), (300, 200), 255, 1)
    ink = (after == INK).all(2)
    rows, columns = np.nonzero(ink)
    wanted_rows, wanted_columns = np.nonzero(plain)
    assert rows.mean() == pytest.approx(wanted_rows.mean(), abs=0.6)
    assert columns.mean() == pytest.approx(wanted_columns.mean(), abs=0.6)


def test_a_strong_line_is_thicker_and_a_dashed_one_has_gaps() -> None:
    def inked(**style: Any) -> np.ndarray:
        line = mark("line", [[0.25, 0.5], [0.75, 0.5]]) | style
        return (MarkPainter().painted(np.zeros((400, 400, 3), np.uint8), [line]) == INK).all(2)

    across = [inked(weight=weight)[:, 200].sum() for weight in ("thin", "normal", "strong")]
    assert across[0] < across[1] < across[2]
    row = inked(is_dashed=True)[200, 100:300]
    # 200 pixels, a dash of 12 and a gap of 8.8 of them each time (shares of 0.03 and 0.022 of 400).
    assert (np.diff(row.astype(int)) == 1).sum() + row[0] == 10
    assert 0.4 < row.mean() < 0.8 and inked()[200, 105:295].all()


def test_an_angle_says_what_the_eye_sees() -> None:
    # In a picture twice as high as wide the corner of a square's diagonal: 45 degrees (plain geometry).
    words = caption(mark("angle", [[0.9, 0.5], [0.5, 0.5], [0.9, 0.3]], "hip"), 0.5)
    assert words == "hip 45°"
    assert caption(mark("angle", [[0.5, 0.5], [0.5, 0.5], [0.9, 0.3]]), 0.5) == ""


def test_two_swings_stand_side_by_side_by_their_events(tmp_path: Path, rendition: Path) -> None:
    """The one beside runs at half the pace between the shared events, mirrored; before and after it is dark."""
    pair = {
        "second": "t",
        "words": "",
        "lock": "events",
        "layout": "beside",
        "offset_us": 0,
        "opacity": 50,
        "is_mirrored": False,
        "time_map": {
            "events": ["top", "impact"],
            "first_us": [0, 2_000_000],
            "second_us": [500_000, 1_500_000],
        },
    }
    events = [
        place(0, 8_000, 0),
        {"ms": 400, "kind": "pair", "pair": pair},
        place(500, 8_000, 1),
        {"ms": 1900, "kind": "pair", "pair": None},
    ]
    encode_voice(np.zeros(2 * RATE_HZ, dtype=np.float32), tmp_path / "talk.m4a")
    clip = {"path": str(rendition), "span_us": [0, 2_000_000], "tracks": None}
    film_to_dir(
        {"s": clip, "t": clip},
        {"duration_ms": 2000, "events": events},
        str(tmp_path / "talk.m4a"),
        str(tmp_path),
        lambda stage, percent: None,
    )
    shown = pictures(tmp_path / "film.mp4")
    half = shown[0].shape[1] // 2
    assert shown[3][:, half:].max() < 40
    for at_s in (0.5, 0.9, 1.3, 1.7):
        picture = shown[round(at_s * FILM_FPS)]
        us = 8_000 + (at_s - 0.5) * 1e6
        assert number_in(picture[:, :half]) == int(us * CLIP_FPS / 1e6 + 1e-6)
        assert number_in(picture[:, half:]) == int((500_000 + us / 2) * CLIP_FPS / 1e6 + 1e-6)
    assert shown[-1][:, half:].max() < 40


def test_one_golfer_over_the_other_is_one_picture(tmp_path: Path, rendition: Path) -> None:
    """The same clip over itself, eight tenths of it, a second later: the later number shows through the earlier."""
    pair = {
        "second": "t",
        "words": "",
        "lock": "offset",
        "layout": "over",
        "offset_us": 1_000_000,
        "opacity": 100,
        "is_mirrored": False,
        "time_map": {},
    }
    events = [place(0, 8_000, 0), {"ms": 500, "kind": "pair", "pair": pair}]
    encode_voice(np.zeros(RATE_HZ, dtype=np.float32), tmp_path / "talk.m4a")
    clip = {"path": str(rendition), "span_us": [0, 2_000_000], "tracks": None, "address_us": 0}
    made = film_to_dir(
        {"s": clip, "t": clip},
        {"duration_ms": 1000, "events": events},
        str(tmp_path / "talk.m4a"),
        str(tmp_path),
        lambda stage, percent: None,
    )
    shown = pictures(tmp_path / "film.mp4")
    assert (made["width"], made["height"]) == shown[0].shape[1::-1] == (360, 640)
    assert number_in(shown[5]) == 0
    assert number_in(shown[25]) == 60


@pytest.mark.parametrize("case", json.loads(CASES.read_text()), ids=lambda case: case["name"])
def test_golfers_lie_over_each_other_as_in_the_browser(case: dict[str, Any]) -> None:
    first, second = tuple(case["first_size"]), tuple(case["second_size"])
    fit = fit_over(
        stance_at(case["first"], case["first_us"], first),
        first,
        stance_at(case["second"], case["second_us"], second),
        second,
        flip=case["flip"],
    )
    assert (fit.scale, fit.dx, fit.dy) == pytest.approx(
        [case["fit"][name] for name in ("scale", "dx", "dy")], abs=1e-6
    )
    assert fit.by_feet == case["fit"]["by_feet"]


def test_half_of_each_where_both_reach_and_the_first_where_only_it_does() -> None:
    first, second = np.full((40, 20, 3), 100, np.uint8), np.full((20, 10, 3), 200, np.uint8)
    mixed = laid_over(first, second, Fit(1.0, 0.0, 0.0, False, False), 0.5)
    assert np.abs(mixed[2:18, 2:8].astype(int) - 150).max() <= 1
    assert (mixed[25:] == 100).all() and (mixed[:, 15:] == 100).all()


# The numbers of tests/js/following.test.mjs.
ASPECT = 0.5625
TRACKS = {
    "t_us": [0, 100, 200, 300],
    "joints": {"left_wrist": [[0.5, 0.5, 0.9], [0.6, 0.4, 0.9], [0.7, 0.3, 0.1], None]},
    "shaft": [[0.5, 0.5, 0.5, 0.5 + 0.2 * ASPECT], [0.5, 0.5, 0.7, 0.5], None, None],
}


def test_drawings_go_with_a_joint_as_in_the_browser() -> None:
    ring = mark("ellipse", [[0.45, 0.45], [0.55, 0.55]]) | {"follows": "left_wrist", "anchor_us": 0}
    there = followed(ring, TRACKS, 100, 20, ASPECT)
    assert there is not None
    assert np.allclose(there["points"], [[0.55, 0.35], [0.65, 0.45]])
    assert followed(ring, TRACKS, 200, 20, ASPECT) is None
    assert followed(ring, TRACKS, 300, 20, ASPECT) is None
    assert followed(ring, TRACKS, 150, 20, ASPECT) is None
    assert followed(ring, None, 100, 20, ASPECT) is ring


def test_a_line_on_the_shaft_turns_with_it() -> None:
    line = mark("line", [[0.5, 0.5], [0.5, 0.5 + 0.2 * ASPECT]]) | {"follows": "shaft", "anchor_us": 0}
    there = followed(line, TRACKS, 100, 20, ASPECT)
    assert there is not None
    assert np.allclose(there["points"], [[0.5, 0.5], [0.7, 0.5]])
