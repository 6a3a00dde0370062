"""From a clip to readouts: the one function the workers and the command line call."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from analysis.adapters.stopwatch import Stopwatch, Timings
from analysis.corrected import JointFix, changed_rows, events_after, with_corrected_joints
from analysis.events import detect_events
from analysis.gate import find_windows, people_json, seen_events, window_problems
from analysis.hands import with_fused_wrist
from analysis.quality import Look, problem
from analysis.readout import SwingReadout, empty_readout, overlay, read_swing, said_aloud
from analysis.scout import SwingWindow, address_part
from analysis.sides import with_mended_sides
from analysis.strike import (
    NOT_TOLD,
    PRACTICE,
    Signals,
    Strike,
    heard_at,
    judge_strikes,
    main_swing,
    strike_near,
)
from analysis.tracks import SwingTracks
from analysis.types import CLUB_CLASSES, EVENTS, HANDS, VIEWS, EventTime, Problem
from analysis.version import ANALYSIS_VERSION, model_digest
from analysis.view import ViewFinding, camera_yaw, find_view

Report = Callable[[str, float], None]
VIEW_CLEAR_P = 0.75
CORRECTED_SE_FRAMES = 0.3


@dataclass(frozen=True, slots=True)
class ClipReadout:
    """Everything measured in one clip: its swings in order of time, and what limits them.

    ``people`` are those in the picture, see ``gate.people_json``. ``timings`` differ from run to run; they are no
    part of the readout's JSON nor of equality.
    """

    path: Path
    fps: float
    duration_s: float
    width: int
    height: int
    frame_count: int
    problems: tuple[Problem, ...]
    swings: tuple[SwingReadout, ...]
    people: Mapping[str, Any]
    timings: Timings = field(compare=False)

    @property
    def usable(self) -> bool:
        """Whether at least one swing was measured."""
        return any(swing.usable for swing in self.swings)

    @property
    def main_swing(self) -> int | None:
        """Number of the swing to show first: a usable one, a strike if there is one; None without any."""
        usable = [swing for swing in self.swings if swing.usable]
        first = main_swing([swing.strike.kind for swing in usable])
        return None if first is None else usable[first - 1].number

    def swing_json(self, number: int = 1) -> dict[str, Any]:
        """Readout of swing ``number`` (from 1), clip problems included; empty when none was measured.

        Raises
        ------
        ValueError
            If the clip has swings but not that many.
        """
        if not self.swings:
            return empty_readout(self.fps, self.problems)
        if not 1 <= number <= len(self.swings):
            raise ValueError(f"swing must be in 1..{len(self.swings)}, got {number}")
        swing = self.swings[number - 1]
        return replace(swing, problems=self.problems + swing.problems).to_json()

    def to_json(self) -> dict[str, Any]:
        """The whole clip."""
        return {
            "version": ANALYSIS_VERSION,
            "model_digest": model_digest(),
            "clip": {
                "fps": round(self.fps, 3),
                "duration_s": round(self.duration_s, 4),
                "width": self.width,
                "height": self.height,
                "frame_count": self.frame_count,
                "usable": self.usable,
            },
            "problems": [p.to_json() for p in self.problems],
            "people": dict(self.people),
            "main_swing": self.main_swing,
            **said_aloud(),
            "swings": [
                {"start_s": round(s.start_s, 4), "end_s": round(s.end_s, 4), **s.to_json()}
                for s in self.swings
            ],
        }


def _quiet(stage: str, percent: float) -> None:
    """Report to nobody."""


def _check_choice(name: str, value: str | None, allowed: tuple[str, ...]) -> None:
    if value is not None and value not in allowed:
        raise ValueError(f"{name} must be one of {allowed} or None, got {value!r}")


def analyse_clip(
    path: str | Path,
    *,
    declared_view: str | None = None,
    declared_hand: str | None = None,
    club_class: str | None = None,
    on_progress: Report | None = None,
) -> ClipReadout:
    """Measure every swing in a clip.

    Parameters
    ----------
    path : str or Path
        A local video file.
    declared_view : {"face_on", "dtl"}, optional
        What the student said; a clear contradiction is a problem and the measured view is used.
    declared_hand : {"right", "left"}, optional
        Wins over the measured one; a contradiction asks whether the video is mirrored.
    club_class : optional
        One of ``types.CLUB_CLASSES``.
    on_progress : callable, optional
        Gets ``(stage, percent)`` with percent in 0..100.

    Returns
    -------
    ClipReadout

    Raises
    ------
    analysis.adapters.video.MediaError
        If the file can't be read; it carries a sentence for the student.
    ValueError
        If a declared value is not allowed.
    """
    from analysis.adapters.listen import clicks_in
    from analysis.adapters.lookout import scout
    from analysis.adapters.pose import PoseFinder
    from analysis.adapters.threads import calm_libraries
    from analysis.adapters.video import probe

    _check_choice("declared_view", declared_view, VIEWS)
    _check_choice("declared_hand", declared_hand, HANDS)
    _check_choice("club_class", club_class, CLUB_CLASSES)
    calm_libraries()
    path, report = Path(path), on_progress or _quiet
    report("reading the clip", 0)
    stopwatch = Stopwatch()
    with stopwatch.stage("probe"):
        clip = probe(path)
    with PoseFinder() as finder:
        with stopwatch.stage("scout"):
            look = scout(path, clip, lambda share: report("looking for the swing", 2 + 28 * share), finder)
        problems, windows = find_windows(look, clip.nominal_fps, clip.capture_fps)
        with stopwatch.stage("sound"):
            clicks_s = clicks_in(path, clip.has_audio) if windows else None
        swings: list[SwingReadout] = []
        for number, window in enumerate(windows, start=1):
            stage = f"measuring swing {number} of {len(windows)}"
            low, width = 30 + 65 * (number - 1) / len(windows), 65 / len(windows)

            def progress(share: float, stage: str = stage, low: float = low, width: float = width) -> None:
                report(stage, low + width * min(1.0, max(0.0, share)))

            finder.forget()
            swings.append(
                _measure_swing(
                    path,
                    clip,
                    look,
                    window,
                    number,
                    declared_view,
                    declared_hand,
                    club_class,
                    clicks_s,
                    progress,
                    stopwatch,
                    finder,
                )
            )
    if swings:
        swings = with_strikes(swings, windows, clicks_s)
        if all(swing.strike.kind == PRACTICE for swing in swings):
            problems.append(problem("only_practice"))
    report("done", 100)
    return ClipReadout(
        path=path,
        fps=clip.nominal_fps,
        duration_s=clip.duration_s,
        width=clip.width,
        height=clip.height,
        frame_count=clip.frame_count,
        problems=tuple(problems),
        swings=tuple(swings),
        people=people_json(look),
        timings=stopwatch.timings(),
    )


def _measure_swing(
    path: Path,
    clip: Any,
    look: Look,
    window: SwingWindow,
    number: int,
    declared_view: str | None,
    declared_hand: str | None,
    club_class: str | None,
    clicks_s: Sequence[float] | None,
    progress: Callable[[float], None],
    stopwatch: Stopwatch,
    finder: Any,
) -> SwingReadout:
    from analysis.adapters.watch import watch_swing
    from analysis.body import part_of

    look = replace(look, pose=with_mended_sides(look.pose, window))
    top = part_of(look.pose, window.top_s - 0.1 * window.stretch, window.top_s + 0.1 * window.stretch)
    finding = find_view(address_part(look.pose, window), top)
    view, hand, problems = _settle(finding, declared_view, declared_hand)
    problems += window_problems(look, window)
    if camera_yaw(address_part(look.pose, window), view).off_line:
        problems.append(problem("off_line"))
    with stopwatch.stage("pose"):
        tracks = watch_swing(path, clip, look, window, view, hand, progress, stopwatch, finder)
    tracks = replace(tracks, pose=with_mended_sides(tracks.pose, window))
    heard = strike_near(clicks_s, tracks.guess["impact"], window.stretch)
    tracks = replace(with_fused_wrist(tracks), club_class=club_class, strike_s=heard)
    if tracks.club.t_s.size == 0 or float((tracks.club.confidence >= 0.5).mean()) < 0.4:
        problems.append(problem("club_unseen"))
    with stopwatch.stage("events"):
        events = seen_events(detect_events(tracks), window)
    if "top" not in events or "impact" not in events:
        problems.append(problem("no_swing"))
        events = {}
    with stopwatch.stage("metrics"):
        return read_swing(
            tracks,
            events,
            number=number,
            start_s=window.start_s,
            end_s=window.end_s,
            fps=clip.nominal_fps,
            problems=tuple(problems),
        )


def with_strikes(
    swings: Sequence[SwingReadout], windows: Sequence[SwingWindow], clicks_s: Sequence[float] | None
) -> list[SwingReadout]:
    """The swings of one clip, each marked as strike, practice swing or unknown.

    Parameters
    ----------
    swings, windows : sequence
        Of equal length.
    clicks_s : sequence of float or None
        Times of short hard sounds, seconds; None without sound.
    """
    signals = [
        Signals(
            ball_left=bool(np.isfinite(swing.tracks.ball.gone_s)),
            heard=heard_at(
                clicks_s,
                swing.events["impact"].t_s if "impact" in swing.events else window.impact_s,
                window.stretch,
            ),
            hand_speed=window.hand_speed,
        )
        for swing, window in zip(swings, windows, strict=True)
    ]
    return [
        replace(swing, strike=strike) for swing, strike in zip(swings, judge_strikes(signals), strict=True)
    ]


def _settle(
    finding: ViewFinding, declared_view: str | None, declared_hand: str | None
) -> tuple[str, str, list[Problem]]:
    """View and hand to use, and what to ask about."""
    problems: list[Problem] = []
    view = finding.view
    if finding.view_p < VIEW_CLEAR_P:
        problems.append(problem("view_unclear"))
        view = declared_view or view
    elif declared_view is not None and declared_view != view:
        problems.append(problem("view_differs"))
    if finding.from_behind:
        problems.append(problem("from_behind"))
    hand = declared_hand or finding.handedness
    if (
        declared_hand is not None
        and declared_hand != finding.handedness
        and finding.handedness_p > VIEW_CLEAR_P
    ):
        problems.append(problem("mirrored"))
    return view, hand, problems


def analyse_to_dir(path: str | Path, out_dir: str | Path, options: Mapping[str, Any], report: Report) -> None:
    """Measure a clip and write ``readout.json``, ``tracks.json``, ``timings.json``, tracks and pictures.

    A swing's entry in ``readout.json`` has a key ``pictures`` more than ``ClipReadout.to_json`` gives, where
    pictures of its events could be made: see ``adapters.sheet.write_pictures``.

    Parameters
    ----------
    path, out_dir : str or Path
        The directory must exist.
    options : mapping
        ``declared_view``, ``declared_hand``, ``club_class``; all optional.
    report : callable
        Gets ``(stage, percent)``.

    Raises
    ------
    ValueError
        If an option is unknown or not allowed.
    """
    from analysis.adapters.store import save_tracks

    known = {"declared_view", "declared_hand", "club_class"}
    if unknown := set(options) - known:
        raise ValueError(f"options must be among {sorted(known)}, got {sorted(unknown)}")
    out = Path(out_dir)
    clip = analyse_clip(path, on_progress=report, **dict(options))
    for swing in clip.swings:
        extra: dict[str, Any] = {"start_s": swing.start_s, "end_s": swing.end_s, "fps": swing.fps}
        extra |= {"problems": [p.code for p in swing.problems]}
        extra |= {"strike": [swing.strike.kind, swing.strike.reason]}
        save_tracks(out, swing.number, swing.tracks, swing.events, extra)
    drawn = [overlay(s.tracks) | {"people": clip.people} for s in clip.swings]
    _write_json(out / "tracks.json", {"swings": drawn})
    _write_json(out / "timings.json", clip.timings.to_json())
    data = clip.to_json()
    for swing, entry in zip(clip.swings, data["swings"], strict=True):
        if pictures := _pictures(swing, clip.path, out):
            entry["pictures"] = pictures
    _write_json(out / "readout.json", data)


def _pictures(swing: SwingReadout, path: Path, out: Path) -> dict[str, Any] | None:
    from analysis.adapters.media import MediaError
    from analysis.adapters.sheet import write_pictures

    if not swing.events:
        return None
    try:
        return write_pictures(path, swing, out)
    except MediaError:
        # The numbers stand without pictures.
        return None


def _write_json(path: Path, data: Any) -> None:
    path.write_text(json.dumps(data, separators=(",", ":"), allow_nan=False), encoding="utf-8")


def remeasure(
    tracks: SwingTracks, events: Mapping[str, EventTime], corrected: Mapping[str, float]
) -> dict[str, EventTime]:
    """Events with some times set by the coach.

    Parameters
    ----------
    tracks : SwingTracks
    events : mapping of EventTime
        The measured ones.
    corrected : mapping of str to float
        Event name to time in seconds of the clip.

    Raises
    ------
    ValueError
        If a name is unknown, a time lies outside the swing, or the order of events would break.
    """
    out = dict(events)
    start, end = float(tracks.pose.t_s[0]) - 0.5, float(tracks.pose.t_s[-1]) + 0.5
    for name, t_s in corrected.items():
        if name not in EVENTS:
            raise ValueError(f"event must be one of {EVENTS}, got {name!r}")
        if not start <= t_s <= end:
            raise ValueError(f"{name} must lie in {start:.2f}..{end:.2f} s, got {t_s:.2f} s")
        out[name] = EventTime(float(t_s), CORRECTED_SE_FRAMES / tracks.fps, "set by the coach")
    names = [name for name in EVENTS if name in out]
    for before, after in pairwise(names):
        touched = before in corrected or after in corrected
        if touched and out[before].t_s > out[after].t_s + 1e-9:
            times = f"{out[before].t_s:.3f} s and {out[after].t_s:.3f} s"
            raise ValueError(f"{before} must not come after {after}, got {times}")
    return {name: out[name] for name in names}


def remeasure_from_dir(
    out_dir: str | Path,
    swing_number: int,
    events: Mapping[str, float],
    joints: Sequence[JointFix] = (),
) -> dict[str, Any]:
    """Readout of a stored swing with corrected event times and joints; no picture is opened.

    Parameters
    ----------
    out_dir : str or Path
        Where ``analyse_to_dir`` wrote.
    swing_number : int
        From 1.
    events : mapping of str to float
        Corrected times in seconds; may be empty.
    joints : sequence of JointFix
        Corrected places; events that follow from them move along, unless they are corrected themselves.

    Returns
    -------
    dict
        As an entry of ``swings`` in ``readout.json``; with corrected joints also ``joint_rows``, the rows of the
        overlay that differ from the stored one (see ``corrected.changed_rows``).

    Raises
    ------
    ValueError
        If the swing is not stored or a correction is not possible.
    """
    from analysis.adapters.store import load_tracks

    stored, measured, extra = load_tracks(Path(out_dir), swing_number)
    tracks = with_corrected_joints(stored, joints) if joints else stored
    if joints:
        measured = events_after(stored, tracks, measured)
    corrected = remeasure(tracks, measured, events)
    swing = read_swing(
        tracks,
        corrected,
        number=swing_number,
        start_s=extra["start_s"],
        end_s=extra["end_s"],
        fps=extra["fps"],
        problems=tuple(problem(code) for code in extra["problems"]),
    )
    # Folders written before swings were told apart hold no kind.
    swing = replace(swing, strike=Strike(*extra.get("strike", (NOT_TOLD.kind, NOT_TOLD.reason))))
    out = {"start_s": round(swing.start_s, 4), "end_s": round(swing.end_s, 4), **swing.to_json()}
    return out | {"joint_rows": changed_rows(stored, tracks)} if joints else out
