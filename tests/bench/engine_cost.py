"""What the engine costs: by length, by resolution, its memory, and against the plain way of doing it.

    python -m tests.bench.engine_cost [FOLDER]

writes ``engine_cost.txt`` and ``engine_cost.svg`` into FOLDER (default: beside this file). Each measuring is a process
of its own. Seconds are of the processor, summed over all threads and cores, since the wall clock of a busy machine says
more about the other work on it; the wall clock stands beside them.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av

from analysis.version import ANALYSIS_VERSION, model_digest
from tests.bench.cost_plot import Series, cost_plot

ROOT = Path(__file__).resolve().parents[2]
CLIP = ROOT / "fixtures" / "clips" / "fo_none.mp4"
MODEL = ROOT / "analysis" / "adapters" / "models" / "pose_full.task"
FPS = 60
LENGTHS_S = (3, 6, 10, 20, 40, 60)
SIZES = ((540, 960), (720, 1280), (1080, 1920), (2160, 3840))
BAR_SHARE, BAR_MIB = 1 / 3, 1.2 * 1024
_REPORT = """
import json, re, resource, time
from pathlib import Path
def said(began, **more):
    used = resource.getrusage(resource.RUSAGE_SELF)
    peak = re.search(r"VmHWM:\\s*(\\d+) kB", Path("/proc/self/status").read_text())
    print(json.dumps({"cpu_s": used.ru_utime + used.ru_stime, "wall_s": time.monotonic() - began,
                      "peak_mib": int(peak[1]) / 1024, **more}))
"""
ENGINE = (
    _REPORT
    + """
import sys
began = time.monotonic()
from analysis.pipeline import analyse_clip
clip = analyse_clip(sys.argv[1])
said(began, swings=len(clip.swings), stages={k: v["s"] for k, v in clip.timings.to_json()["stages"].items()})
"""
)
# Written against the libraries themselves: each frame decoded and given to the full model.
PLAIN = (
    _REPORT
    + """
import sys
began = time.monotonic()
import av, mediapipe as mp, numpy as np
from mediapipe.tasks.python import BaseOptions
from mediapipe.tasks.python.vision import PoseLandmarker, PoseLandmarkerOptions, RunningMode
options = PoseLandmarkerOptions(base_options=BaseOptions(model_asset_path=sys.argv[2]), running_mode=RunningMode.VIDEO)
seen = 0
with PoseLandmarker.create_from_options(options) as model, av.open(sys.argv[1]) as clip:
    for frame in clip.decode(video=0):
        rgb = np.ascontiguousarray(frame.to_ndarray(format="rgb24"))
        picture = mp.Image(image_format=mp.ImageFormat.SRGB, data=rgb)
        seen += bool(model.detect_for_video(picture, int(frame.time * 1000)).pose_landmarks)
said(began, seen=seen)
"""
)


@dataclass(frozen=True)
class Cost:
    cpu_s: float
    wall_s: float
    peak_mib: float
    stages: dict[str, float]
    found: int


def cost_of(program: str, *arguments: str) -> Cost:
    """One run of a program in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments], capture_output=True, text=True, check=False, cwd=ROOT
    )
    if done.returncode:
        raise RuntimeError(f"{arguments[0]}: {done.stderr[-2000:]}")
    said = json.loads(done.stdout.splitlines()[-1])
    found = said["swings"] if "swings" in said else said["seen"]
    return Cost(said["cpu_s"], said["wall_s"], said["peak_mib"], said.get("stages", {}), found)


def write_clip(path: Path, length_s: float, width: int, height: int) -> Path:
    """One swing with standing still before and behind it, as long and as large as asked for."""
    with av.open(str(path), "w", options={"movflags": "faststart"}) as out:
        stream = out.add_stream("libx264", rate=FPS, options={"preset": "ultrafast", "crf": "23"})
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.time_base = Fraction(1, FPS)
        for index, picture in enumerate(_pictures(round(length_s * FPS))):
            frame = picture.reformat(width=width, height=height, format="yuv420p")
            frame.pts, frame.time_base = index, Fraction(1, FPS)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def _pictures(count: int) -> Iterator[av.VideoFrame]:
    with av.open(str(CLIP)) as clip:
        swing = [
            av.VideoFrame.from_ndarray(f.to_ndarray(format="yuv420p"), "yuv420p")
            for f in clip.decode(video=0)
        ]
    before = max(0, count - len(swing)) // 2
    order = [0] * before + list(range(len(swing))) + [len(swing) - 1] * max(0, count - len(swing) - before)
    yield from (swing[i] for i in order[:count])


def main(folder: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="cost-") as name:
        place = Path(name)
        lengths = {s: cost_of(ENGINE, str(write_clip(place / "l.mp4", s, 720, 1280))) for s in LENGTHS_S}
        sizes = {size: cost_of(ENGINE, str(write_clip(place / "s.mp4", 6, *size))) for size in SIZES}
        bar_clip = str(write_clip(place / "b.mp4", 10, 1080, 1920))
        engine, plain = cost_of(ENGINE, bar_clip), cost_of(PLAIN, bar_clip, str(MODEL))
    (folder / "engine_cost.txt").write_text(report(lengths, sizes, engine, plain), encoding="utf-8")
    (folder / "engine_cost.svg").write_text(plot(lengths, sizes), encoding="utf-8")
    print((folder / "engine_cost.txt").read_text(encoding="utf-8"))


def report(lengths: dict[int, Cost], sizes: dict[tuple[int, int], Cost], engine: Cost, plain: Cost) -> str:
    share, wall = engine.cpu_s / plain.cpu_s, engine.wall_s / plain.wall_s
    peak = max(cost.peak_mib for cost in (*lengths.values(), *sizes.values(), engine))
    machine = f"{os.cpu_count()} processors ({platform.machine()}), load {os.getloadavg()[0]:.1f} at the end"
    lines = [
        f"python -m tests.bench.engine_cost, engine {ANALYSIS_VERSION}, models {model_digest()}",
        f"{machine}; one swing a clip, {FPS} frames a second, H.264.",
        "Processor seconds over all threads, start of the process included.",
        "",
        "Bars",
        f"  10 s at 1080 x 1920: engine {engine.cpu_s:.1f} s of the processor, {engine.wall_s:.1f} s by the clock;",
        f"  decoding and the full model on every frame {plain.cpu_s:.1f} s, {plain.wall_s:.1f} s by the clock:",
        f"  ratio {share:.3f} of the processor, {wall:.3f} by the clock; bar {BAR_SHARE:.3f}:"
        f" {_verdict(share <= BAR_SHARE)} (processor), {_verdict(wall <= BAR_SHARE)} (clock)",
        f"  memory: at most {peak:.0f} MiB over all clips below; bar {BAR_MIB:.0f} MiB: {_verdict(peak <= BAR_MIB)}",
        "",
        "By length (720 x 1280)",
        *_table([f"{s} s" for s in lengths], list(lengths.values())),
        "",
        "By resolution (6 s)",
        *_table([f"{w} x {h}" for w, h in sizes], list(sizes.values())),
        "",
        "Stages are seconds by the clock; club runs beside pose in a second thread.",
    ]
    return "\n".join(lines) + "\n"


def _verdict(holds: bool) -> str:
    return "meets" if holds else "MISSES"


def _table(names: list[str], costs: list[Cost]) -> list[str]:
    stages = list(costs[0].stages)
    head = f"  {'clip':12s} {'swings':>6s} {'cpu s':>7s} {'clock s':>8s} {'MiB':>6s}  " + " ".join(
        f"{s:>8s}" for s in stages
    )
    rows = [
        f"  {name:12s} {cost.found:6d} {cost.cpu_s:7.1f} {cost.wall_s:8.1f} {cost.peak_mib:6.0f}  "
        + " ".join(f"{cost.stages[s]:8.2f}" for s in stages)
        for name, cost in zip(names, costs, strict=True)
    ]
    return [head, *rows]


def plot(lengths: dict[int, Cost], sizes: dict[tuple[int, int], Cost]) -> str:
    pixels = [w * h / 1e6 for w, h in sizes]
    by_length, by_size = list(lengths.values()), list(sizes.values())
    return cost_plot(
        [
            Series(
                "Cost by length, 720 x 1280",
                "clip, s",
                "processor, s",
                list(lengths),
                [c.cpu_s for c in by_length],
            ),
            Series(
                "Memory by length",
                "clip, s",
                "peak, MiB",
                list(lengths),
                [c.peak_mib for c in by_length],
                BAR_MIB,
            ),
            Series(
                "Cost by resolution, 6 s", "megapixels", "processor, s", pixels, [c.cpu_s for c in by_size]
            ),
            Series(
                "Memory by resolution",
                "megapixels",
                "peak, MiB",
                pixels,
                [c.peak_mib for c in by_size],
                BAR_MIB,
            ),
        ]
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
