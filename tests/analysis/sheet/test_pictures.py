"""Event pictures and the sheet, from true tracks over the rendered clips."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest

from analysis.adapters.ink import LEAD, TRAIL, text_size, wrapped
from analysis.adapters.sheet import COLUMNS, encoded, event_pictures, event_sheet, write_pictures
from analysis.adapters.stills import frames_at
from analysis.readout import SwingReadout, read_swing
from analysis.sheet import body_at, golfer_box, tiles_of
from analysis.types import EVENTS
from tests.analysis.clipmaker import CLIPS
from tests.analysis.conftest import truth_tracks

CLIP = CLIPS / "fo_none.mp4"


def swing_of(name: str = "fo_none", *, without: tuple[str, ...] = ()) -> SwingReadout:
    tracks, events = truth_tracks(name)
    kept = {event: time for event, time in events.items() if event not in without}
    end_s = float(tracks.pose.t_s[-1])
    return read_swing(tracks, kept, number=1, start_s=0.0, end_s=end_s, fps=tracks.fps)


def test_frames_are_those_a_plain_decoder_shows_at_that_time() -> None:
    times = [1.25, 0.4, 0.4, 2.0]
    found = frames_at(CLIP, times)
    with av.open(str(CLIP)) as clip:
        plain = [(float(frame.time or 0), frame.to_ndarray(format="rgb24")) for frame in clip.decode(video=0)]
    for asked, frame in zip(times, found, strict=True):
        shown_s, picture = min(plain, key=lambda one: abs(one[0] - asked))
        assert frame.t_s == pytest.approx(shown_s, abs=1e-6)
        # Two roads from YUV to RGB differ by a little rounding; another frame of a swing differs by far more.
        assert np.abs(frame.rgb.astype(int) - picture.astype(int)).mean() < 2.5


def test_times_outside_the_clip_get_its_ends_and_nonsense_is_refused() -> None:
    first, last = frames_at(CLIP, [-3.0, 99.0], long_edge=64)
    assert (first.index, last.index) == (0, 149)
    assert max(first.rgb.shape) == 64
    assert frames_at(CLIP, []) == []
    with pytest.raises(ValueError, match="times_s must be finite"):
        frames_at(CLIP, [float("nan")])
    with pytest.raises(ValueError, match="long_edge must be at least 16"):
        frames_at(CLIP, [1.0], long_edge=3)


@pytest.mark.parametrize(("name", "lead"), [("fo_none", "left"), ("fo_left", "right")])
def test_lead_lines_lie_on_the_lead_side_and_trail_lines_are_dashed(name: str, lead: str) -> None:
    swing = swing_of(name)
    shown = event_pictures(CLIPS / f"{name}.mp4", swing)
    frame = frames_at(CLIPS / f"{name}.mp4", [swing.events["address"].t_s])[0]
    body = body_at(swing.tracks, frame.t_s)
    bodies = [
        body_at(swing.tracks, frames_at(CLIPS / f"{name}.mp4", [e.t_s])[0].t_s) for e in swing.events.values()
    ]
    box = golfer_box(swing.tracks, bodies)
    picture, scale = shown.pictures["address"], shown.width / box.width

    def share(side: str, colour: tuple[int, int, int]) -> float:
        """Part of the line from knee to ankle that has the colour."""
        pose = swing.tracks.pose
        at = int(np.argmin(np.abs(pose.t_s - frame.t_s)))
        ends = [pose.joint(f"{side}_{joint}")[at] for joint in ("knee", "ankle")]
        line = [
            (ends[0] + s * (ends[1] - ends[0]) - (box.left, box.top)) * scale
            for s in np.linspace(0.2, 0.9, 40)
        ]
        return float(
            np.mean([np.abs(picture[round(y), round(x)].astype(int) - colour).max() < 40 for x, y in line])
        )

    trail = "left" if lead == "right" else "right"
    assert len(body.lead) == len(body.trail) == 6
    assert share(lead, LEAD) > 0.95
    assert 0.3 < share(trail, TRAIL) < 0.8
    assert share(lead, TRAIL) < 0.1


def test_the_head_and_the_club_are_inside_all_pictures() -> None:
    swing = swing_of()
    bodies = [body_at(swing.tracks, event.t_s) for event in swing.events.values()]
    box = golfer_box(swing.tracks, bodies)
    points = np.array(
        [p for b in bodies for line in (*b.lead, *b.trail, b.shaft) if line for p in (*line, *b.head)]
    )
    inside = np.clip(points, 0, (swing.tracks.pose.width, swing.tracks.pose.height))
    assert (inside >= (box.left, box.top)).all()
    assert (inside <= (box.right, box.bottom)).all()
    assert 0.6 <= box.width / box.height <= 1.05


def test_a_landscape_picture_is_cut_to_the_golfer() -> None:
    tracks, events = truth_tracks("fo_none")
    aside = np.array([1200.0, 0.0])
    moved = tracks.pose.xy + aside
    club = replace(tracks.club, grip_xy=tracks.club.grip_xy + aside, head_xy=tracks.club.head_xy + aside)
    wide = replace(tracks, pose=replace(tracks.pose, xy=moved, width=3000, height=1280), club=club)
    box = golfer_box(wide, [body_at(wide, event.t_s) for event in events.values()])
    assert 900 < box.left < box.right < 2300
    assert 0.6 <= box.width / box.height <= 1.05


def test_a_missing_event_has_a_tile_that_says_so() -> None:
    swing = swing_of(without=("shaft_parallel_through",))
    tile = next(tile for tile in tiles_of(swing) if tile.event == "shaft_parallel_through")
    assert tile.t_s is None
    assert tile.time_words == "not found in this clip"
    shown = event_pictures(CLIP, swing)
    assert "shaft_parallel_through" not in shown.pictures
    assert len(shown.tiles) == len(EVENTS)
    sheet = event_sheet(swing, shown)
    assert sheet.shape[1] == COLUMNS * shown.width + (COLUMNS + 1) * 20
    assert sheet.shape[0] > len(EVENTS) / COLUMNS * shown.height
    # Its place is a plain area of the size of a picture, but for the words on it.
    plain = (sheet == (226, 230, 229)).all(axis=2).sum()
    assert 0.9 * shown.width * shown.height < plain < 1.1 * shown.width * shown.height


def test_each_tile_names_time_error_and_key_numbers_in_the_registrys_units() -> None:
    tiles = {tile.event: tile for tile in tiles_of(swing_of())}
    assert tiles["top"].title == "Top"
    assert tiles["top"].time_words.endswith("± 0 ms")  # true events have no error
    assert any(
        number.startswith("Trunk side tilt") and number.endswith("°") for number in tiles["top"].numbers
    )
    assert all(len(tile.numbers) <= 3 for tile in tiles.values())


def test_words_are_broken_where_they_fit_and_numbers_stay_whole() -> None:
    words = "Opening of the arm-shaft angle before lead arm parallel 23\u00a0±\u00a017°"
    lines = wrapped(words, 26, 300)
    assert len(lines) > 1
    assert all(text_size(line, 26) <= 300 for line in lines)
    assert lines[-1].endswith("23 ± 17°")


def test_pictures_are_written_with_their_times(tmp_path: Path) -> None:
    swing = swing_of(without=("finish",))
    made = write_pictures(CLIP, swing, tmp_path)
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"sheet_1.jpg"} | {f"still_1_{event}.jpg" for event in swing.events}
    assert set(made["stills"]) == set(swing.events)
    assert made["stills"]["top"]["t"] == pytest.approx(swing.events["top"].t_s, abs=1e-4)
    assert (tmp_path / "still_1_top.jpg").read_bytes()[
        :3
    ] == b"\xff\xd8\xff"  # JPEG, ITU-T T.81: SOI and a marker
    # The same picture each time, byte for byte.
    again = encoded(event_sheet(swing, event_pictures(CLIP, swing)), ".jpg")
    assert (tmp_path / "sheet_1.jpg").read_bytes() == again


def test_only_known_endings_are_written() -> None:
    picture = np.zeros((8, 8, 3), np.uint8)
    assert encoded(picture, ".PNG")[:8] == b"\x89PNG\r\n\x1a\n"
    with pytest.raises(ValueError, match="must end with one of"):
        encoded(picture, ".gif")


def test_hidden_joints_and_an_unseen_shaft_are_left_out() -> None:
    tracks, events = truth_tracks("fo_none")
    hidden = replace(
        tracks,
        pose=replace(tracks.pose, confidence=np.zeros_like(tracks.pose.confidence)),
        club=replace(tracks.club, confidence=np.zeros_like(tracks.club.confidence)),
    )
    body = body_at(hidden, events["top"].t_s)
    assert (body.lead, body.trail, body.across, body.shaft) == ((), (), (), None)
    box = golfer_box(hidden, [body])
    assert (box.left, box.top, box.right, box.bottom) == (0, 0, tracks.pose.width, tracks.pose.height)
