"""The whole way on one swing a view, filmed at 30 to 240 frames a second, at a varying rate, slowed down, with a
shutter open for 1/80 s, and through a net.

Nothing was tuned on the two clips. The bars are the engine's own (top and impact within a frame of 60 a second, a shaft
within 5 degrees in 95 of 100 answered frames), so a rate above 60 must keep them and a slower one may miss by a frame.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from analysis.adapters.video import probe
from analysis.geometry import wrap_deg
from analysis.pipeline import ClipReadout, analyse_clip
from analysis.readout import SwingReadout
from tests.analysis.filming import FILMINGS, fast_truth, true_events, true_shaft
from tests.measured import remembered

FACE_ON, DTL = "fo_240", "dtl_240"
STEADY = ("30", "60", "120", "240")
# Face-on 120 frames a second are those of the slowed file.
CASES = [
    *((FACE_ON, rate) for rate in FILMINGS if rate not in ("120", "60, through a net")),
    *((DTL, rate) for rate in (*STEADY, "60, through a net")),
]
WITHOUT_SLOWED = [case for case in CASES if "slowed" not in case[1]]
TIMES = {
    "backswing_time": ("takeaway", "top"),
    "downswing_time": ("top", "impact"),
}
cases = pytest.mark.parametrize(("name", "rate"), CASES)


@dataclass(frozen=True)
class Filmed:
    """A readout and the rates that its file states."""

    clip: ClipReadout
    stated_fps: float
    capture_fps: float | None
    is_variable: bool

    @property
    def swing(self) -> SwingReadout:
        (one,) = self.clip.swings
        return one

    @property
    def codes(self) -> list[str]:
        return [p.code for p in (*self.clip.problems, *self.swing.problems)]


Film = Callable[[str, str], Filmed]


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> Film:
    """The readout of a clip at one of the rates; each is measured once in a run."""
    folder = tmp_path_factory.mktemp("filmed")

    def measure(name: str, rate: str) -> Filmed:
        path = FILMINGS[rate].write(folder / f"{name}_{rate.replace(', ', '_')}.mp4", name)
        said = probe(path)
        readout = remembered(path, {}, lambda: analyse_clip(path))
        return Filmed(readout, said.nominal_fps, said.capture_fps, said.variable_rate)

    return cache(measure)


@cases
def test_the_swing_is_seen_for_what_it_is(name: str, rate: str, filmed: Film) -> None:
    found, meta = filmed(name, rate), fast_truth(name)["meta"]
    assert found.stated_fps == pytest.approx(FILMINGS[rate].filmed_fps / FILMINGS[rate].slower, rel=0.35)
    assert found.is_variable == (rate == "variable")
    assert (found.swing.tracks.view, found.swing.tracks.handedness) == (meta["view"], meta["handedness"])
    assert found.swing.usable
    wanted = {"30": ["too_slow_fps"], "slowed": ["slow_motion"], "slowed, said": ["slow_motion_timed"]}
    assert [code for code in found.codes if code != "blurred"] == wanted.get(rate, [])


@cases
def test_top_and_impact_are_met_and_no_event_leaves_its_interval(name: str, rate: str, filmed: Film) -> None:
    """Four standard errors for the worst of the ten events; that they hold on average is the bench's matter."""
    filming, truth = FILMINGS[rate], true_events(name, FILMINGS[rate])
    # A clip that doesn't say how much slower it plays gives times of its own.
    events = {
        key: (event.t_s / filming.slower, event.se_s / filming.slower)
        for key, event in filmed(name, rate).swing.events.items()
    }
    assert {"address", "takeaway", "top", "impact", "finish"} <= set(events)
    off = {key: t - truth[key] for key, (t, _) in events.items()}
    print(f"\n{name} {rate}: " + ", ".join(f"{k} {1000 * v:.0f}" for k, v in off.items()) + " ms")
    frame_s = max(1 / filming.filmed_fps, 1 / 60)
    assert abs(off["impact"]) <= frame_s
    assert abs(off["top"]) <= frame_s
    assert {key: v for key, v in off.items() if abs(v) > 4 * events[key][1] + 0.002} == {}


@cases
def test_the_shaft_is_followed_from_address_until_after_impact(name: str, rate: str, filmed: Film) -> None:
    filming, truth = FILMINGS[rate], true_events(name, FILMINGS[rate])
    t_s, deg, seen = true_shaft(name, filming)
    club = filmed(name, rate).swing.tracks.club
    looked = (club.t_s / filming.slower >= truth["takeaway"] - 0.1) & (
        club.t_s / filming.slower <= truth["impact"] + 0.1
    )
    at = np.array([int(np.argmin(np.abs(t_s - t / filming.slower))) for t in club.t_s[looked]])
    visible, answered = seen[at] >= 0.5, club.confidence[looked] >= 0.5
    off = np.abs(wrap_deg(club.deg[looked] - deg[at]))[visible & answered]
    print(
        f"\n{name} {rate}: {answered[visible].mean():.2f} of {visible.sum()} answered, {np.mean(off <= 5):.3f} within 5"
    )
    assert visible.sum() >= 30 * min(1.0, filming.filmed_fps / 60)
    # Of one clip's few dozen frames; all clips together are held to the bar below. Through a net more is unseen and
    # stays unsaid (the lines of a net are no shaft), and down the line the shaft points at the lens right after impact.
    assert answered[visible].mean() >= (0.75 if filming.net else 0.9)
    assert np.mean(off <= 5) >= 0.9
    assert np.mean(off <= 10) >= 0.93


@pytest.mark.parametrize(("name", "rate"), [case for case in CASES if case[1] != "slowed"])
def test_times_are_those_of_the_swing(name: str, rate: str, filmed: Film) -> None:
    """Also where the file plays four times slower and says so: in seconds of the swing, not of the file."""
    truth, metrics = true_events(name, FILMINGS[rate]), filmed(name, rate).swing.metrics
    for metric, (start, end) in TIMES.items():
        value, se = metrics[metric].value, metrics[metric].se
        assert value is not None and se is not None
        assert abs(value - (truth[end] - truth[start])) <= 3 * se, metric
        assert se < 0.06
    tempo = (truth["top"] - truth["takeaway"]) / (truth["impact"] - truth["top"])
    value, se = metrics["tempo_ratio"].value, metrics["tempo_ratio"].se
    assert value is not None and se is not None
    assert abs(value - tempo) <= 3 * se


def test_a_slowed_clip_that_does_not_say_so_gives_angles_and_no_times(filmed: Film) -> None:
    slowed, said = filmed(FACE_ON, "slowed"), filmed(FACE_ON, "slowed, said")
    assert (slowed.capture_fps, said.capture_fps) == (None, 120.0)
    assert slowed.stated_fps == said.stated_fps == pytest.approx(30.0)
    assert slowed.swing.tracks.stretch == pytest.approx(4.0, rel=0.25)
    assert said.swing.tracks.stretch == pytest.approx(4.0)
    for metric in (*TIMES, "tempo_ratio"):
        assert slowed.swing.metrics[metric].value is None
        assert "slow motion" in (slowed.swing.metrics[metric].reason or "")
    # Filmed at 120, stated as 30: what 30 frames a second would be too few for is measured.
    for one in (slowed, said):
        assert one.swing.metrics["shaft_lean_impact"].value is not None
    assert "too few" in (filmed(FACE_ON, "30").swing.metrics["shaft_lean_impact"].reason or "")


@pytest.mark.parametrize(
    ("name", "rate"), [c for c in WITHOUT_SLOWED if c[1] != "60"] + [(FACE_ON, "slowed, said")]
)
def test_body_numbers_agree_with_those_at_sixty(name: str, rate: str, filmed: Film) -> None:
    """One swing has one set of numbers, whatever filmed it; both errors count."""
    here, there = (filmed(name, one).swing.metrics for one in (rate, "60"))
    apart = {
        key: abs(here[key].value - there[key].value) / np.hypot(here[key].se, there[key].se)
        for key in here
        if here[key].value is not None and there[key].value is not None
    }
    assert len(apart) >= 12
    far = {key: round(v, 1) for key, v in apart.items() if v > 1.96}
    print(f"\n{name} {rate} against 60: {len(far)} of {len(apart)} beyond the interval: {far}")
    assert len(far) <= 0.1 * len(apart)


def test_the_shafts_confidence_is_the_share_that_is_right(filmed: Film) -> None:
    """Stated: the chance of a direction within 5 degrees. Counted over all clips here, with the doubtful ones apart."""
    stated, right = [], []
    for name, rate in CASES:
        filming, club = FILMINGS[rate], filmed(name, rate).swing.tracks.club
        t_s, deg, seen = true_shaft(name, filming)
        at = np.array([int(np.argmin(np.abs(t_s - t / filming.slower))) for t in club.t_s])
        within = np.abs(wrap_deg(club.deg - deg[at])) <= 5
        shown = (seen[at] >= 0.5) & (club.t_s / filming.slower <= true_events(name, filming)["impact"] + 0.1)
        stated += club.confidence[shown].tolist()
        right += within[shown].tolist()
    sure, doubted = np.array(stated) >= 0.5, np.array(stated) < 0.5
    said, was = float(np.mean(np.array(stated)[sure])), float(np.mean(np.array(right)[sure]))
    rest = float(np.mean(np.array(right)[doubted]))
    print(
        f"\nsure of {sure.sum()}: {said:.3f} stated, {was:.3f} right; of {doubted.sum()} doubted {rest:.2f} right"
    )
    assert sure.sum() > 500
    assert was >= 0.95
    assert abs(said - was) <= 0.03
    assert rest < was - 0.2


def test_a_faster_camera_is_surer_of_the_impact(filmed: Film) -> None:
    for name, rates in ((FACE_ON, ("30", "60", "240")), (DTL, STEADY)):
        errors = [filmed(name, rate).swing.events["impact"].se_s for rate in rates]
        print(f"\n{name}: standard error of impact at {rates}: {[round(1000 * e, 1) for e in errors]} ms")
        assert errors == sorted(errors, reverse=True)
        assert errors[-1] < errors[0] / 2
