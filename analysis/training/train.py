"""Train the shaft network: ``python -m analysis.training.train DATA OUT [--init last.pt] [--teacher last.pt]``.

Samples may still be coming in from ``analysis.training.dataset`` while this runs. Writes ``last.pt`` (averaged
weights), ``shaft.onnx`` (checked in ONNX Runtime) and ``held_out.npz`` (features and errors on samples that were
never trained on, for ``analysis.training.fit_confidence``). A teacher is a network trained with ``--wide``, or any
network saved as TorchScript (``.ts``) that gives the same maps.
"""

from __future__ import annotations

import argparse
import copy
import math
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analysis.training.dataset import Dataset, open_dataset
from analysis.training.labels import INDEX
from analysis.training.losses import losses_of
from analysis.training.targets import cell_centres, targets_of

WARM_STEPS = 300
CLIP_GRADIENT = 5.0
TEACHER_SHARE = 0.7
MOST_HELD_OUT = 2400
REPORT_EVERY = 500


@dataclass(frozen=True, slots=True)
class Plan:
    """``steps`` of ``batch`` samples at a cosine learning rate from ``rate``; ``device`` as torch names it.

    With ``seconds`` the clock ends the training, and the learning rate falls with it.
    """

    steps: int
    batch: int = 96
    rate: float = 2e-3
    device: str = "cpu"
    seed: int = 1
    seconds: float = math.inf


def learning_rate(plan: Plan, step: int, spent_s: float = 0.0) -> float:
    """Warm up over 300 steps, then fall along a cosine."""
    warm = min(1.0, (step + 1) / WARM_STEPS)
    done = min(1.0, max(step / plan.steps, spent_s / plan.seconds))
    return plan.rate * warm * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6


class _Rows:
    """The samples on the training device, where drawing from them costs nothing; new ones are fetched at times."""

    def __init__(self, torch: Any, data: Dataset, device: str) -> None:
        self._torch, self._data, self._device, self.count = torch, data, device, 0
        self._pictures: Any = torch.empty(data.pictures.shape, dtype=torch.uint8, device=device)
        self._labels: Any = torch.empty(data.labels.shape, dtype=torch.float32, device=device)
        self.fetch()

    def fetch(self) -> None:
        """Take over what has been written since."""
        written, torch = self._data.written, self._torch
        for first in range(self.count, written, 512):
            rows = slice(first, min(written, first + 512))
            self._pictures[rows] = torch.from_numpy(np.array(self._data.pictures[rows]))
            self._labels[rows] = torch.from_numpy(np.array(self._data.labels[rows]))
        self.count = written

    def of(self, rows: np.ndarray) -> tuple[Any, Any]:
        """Pictures and labels of these rows."""
        at = self._torch.from_numpy(rows).to(self._device)
        return self._pictures[at], self._labels[at]


def _teacher_of(torch: Any, path: Path, device: str) -> Any:
    """The network of a file: TorchScript, or weights of the wide one."""
    from analysis.training.net import WIDE, ShaftNetwork

    if path.suffix == ".ts":
        return torch.jit.load(str(path), map_location=device).eval()
    network = ShaftNetwork(WIDE).to(device).eval()
    network.load_state_dict(torch.load(path, map_location=device, weights_only=True))
    return network


class Trainer:
    """Holds the network, its running average and the samples.

    Parameters
    ----------
    data : Dataset
    plan : Plan
    init, teacher : Path, optional
        Weights to go on from, and of a wide network whose answers are imitated too.
    wide : bool
        Train a teacher.
    """

    def __init__(
        self,
        data: Dataset,
        plan: Plan,
        init: Path | None = None,
        teacher: Path | None = None,
        wide: bool = False,
    ) -> None:
        import torch

        from analysis.training.net import SMALL, WIDE, ShaftNetwork

        torch.manual_seed(plan.seed)
        self._torch, self._data, self.plan = torch, data, plan
        self._rows = _Rows(torch, data, plan.device)
        self.held_out = min(MOST_HELD_OUT, max(1, self._rows.count // 3))
        self.network = ShaftNetwork(WIDE if wide else SMALL).to(plan.device)
        if init is not None:
            self.network.load_state_dict(torch.load(init, map_location=plan.device, weights_only=True))
        self._teacher = None if teacher is None else _teacher_of(torch, teacher, plan.device)
        self.average = copy.deepcopy(self.network).eval()
        fused = plan.device != "cpu"
        self._optimiser: Any = torch.optim.AdamW(
            self.network.parameters(), plan.rate, weight_decay=0.02, fused=fused
        )
        self._centres = cell_centres(torch).to(plan.device)
        self._draw = np.random.default_rng(plan.seed)

    def run(self, report: Any = print) -> list[float]:
        """All steps; returns the loss of each."""
        history: list[Any] = []
        began = time.monotonic()
        for step in range(self.plan.steps):
            spent = time.monotonic() - began
            if spent > self.plan.seconds:
                break
            for group in self._optimiser.param_groups:
                group["lr"] = learning_rate(self.plan, step, spent)
            history.append(self.step())
            self._update_average(step)
            if step % REPORT_EVERY == REPORT_EVERY - 1:
                self._rows.fetch()
                lately = np.mean([float(loss) for loss in history[-100:]])
                report(f"step {step + 1}, {spent:.0f} s, samples {self._rows.count}: loss {lately:.3f}")
        return [float(loss) for loss in history]

    def step(self) -> Any:
        """One batch; returns its loss, still on the device: asking for it would wait for the card."""
        from analysis.training.augment import augmented

        torch = self._torch
        rows = np.sort(self._draw.integers(self.held_out, self._rows.count, self.plan.batch))
        pictures, labels = self._rows.of(rows)
        with torch.no_grad():
            x, points = augmented(pictures, labels)
        loss = self._loss(x, points, labels)
        self._optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.network.parameters(), CLIP_GRADIENT)
        self._optimiser.step()
        return loss.detach()

    def _loss(self, x: Any, points: Any, labels: Any) -> Any:
        torch = self._torch
        with self._quick():
            dense, clip = self.network(x)
        dense, clip = dense.float(), clip.float()
        wanted = targets_of(torch, points, labels, self._centres)
        loss = losses_of(torch, dense, clip, points, labels, wanted, self._centres).total
        return loss if self._teacher is None else loss + TEACHER_SHARE * self._imitation(x, dense)

    def _quick(self) -> Any:
        """Half precision, except on a processor."""
        device, torch = self.plan.device, self._torch
        return torch.autocast(device.split(":")[0], torch.bfloat16, enabled=device != "cpu")

    def _imitation(self, x: Any, dense: Any) -> Any:
        """Distance to the teacher's maps."""
        torch = self._torch
        soft = torch.nn.functional
        with torch.no_grad(), self._quick():
            said = self._teacher(x)[0] if self._teacher is not None else dense
        said = said.float()
        share = torch.sigmoid(said[:, :1])
        shaft = soft.binary_cross_entropy_with_logits(dense[:, :1], share, reduction="none")
        apart = (dense[:, 1:3] - said[:, 1:3]) / (4 + said[:, 1:3].norm(dim=1, keepdim=True))
        direction = (apart**2 * share).sum() / share.sum()
        points = 0.0
        for k in (3, 4):
            wanted = torch.softmax(said[:, k].flatten(1), 1)
            points = points - (wanted * soft.log_softmax(dense[:, k].flatten(1), 1)).sum(1).mean()
        return (shaft * (1 + 6 * share)).mean() * 12 + 2 * direction + 0.35 * points

    def _update_average(self, step: int) -> None:
        keep = min(0.999, (step + 1) / (step + 20))
        with self._torch.no_grad():
            pairs = list(
                zip(self.average.state_dict().values(), self.network.state_dict().values(), strict=True)
            )
            floats = [pair for pair in pairs if pair[0].dtype.is_floating_point]
            self._torch._foreach_lerp_([m for m, _ in floats], [now for _, now in floats], 1 - keep)
            for mean, now in pairs:
                if not mean.dtype.is_floating_point:
                    mean.copy_(now)

    def answers(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Maps, clip-level numbers and labels of the held-out samples, from the averaged weights."""
        dense, clip = [], []
        with self._torch.no_grad():
            for first in range(0, self.held_out, 64):
                pictures, _ = self._rows.of(np.arange(first, min(self.held_out, first + 64)))
                d, c = self.average(pictures.float() / 255)
                dense.append(d.cpu().numpy().astype(np.float16))
                clip.append(c.cpu().numpy())
        return np.concatenate(dense), np.concatenate(clip), np.array(self._data.labels[: self.held_out])

    def held_out_line(self) -> str:
        """How well the averaged weights do on the held-out samples with half of the shaft in sight."""
        from analysis.training.fit_confidence import direction_errors

        _, errors, labels = direction_errors(*self.answers())
        return "held out: " + "; ".join(_kinds(errors, labels))

    def save(self, folder: Path) -> float:
        """Write weights, ONNX and held-out answers; returns the difference to ONNX Runtime."""
        from analysis.training.export import checked_export
        from analysis.training.fit_confidence import direction_errors

        folder.mkdir(parents=True, exist_ok=True)
        self._torch.save(self.average.state_dict(), folder / "last.pt")
        features, errors, labels = direction_errors(*self.answers())
        np.savez_compressed(folder / "held_out.npz", features=features, errors=errors, labels=labels)
        pictures = self._data.pictures[:4].astype(np.float32) / 255
        return checked_export(copy.deepcopy(self.average), folder / "shaft.onnx", pictures)


def _kinds(errors: np.ndarray, labels: np.ndarray) -> list[str]:
    """Shares within 5 and 10 degrees of the samples that show half of their shaft, by view."""
    shown = (labels[:, INDEX["shaft_visible"]] >= 0.5) & (labels[:, INDEX["has_club"]] > 0)
    behind = labels[:, INDEX["down_the_line"]] > 0
    lines = []
    for name, rows in (("face-on", ~behind), ("down-the-line", behind)):
        e = errors[rows & shown]
        if e.size:
            lines.append(f"{name} {np.mean(e < 5):.3f} / {np.mean(e < 10):.3f} of {e.size}")
    return lines or ["no sample shows half of its shaft"]


def main(arguments: Sequence[str]) -> int:
    """Train; returns the exit status."""
    p = argparse.ArgumentParser(prog="python -m analysis.training.train", description=__doc__)
    p.add_argument("data", type=Path)
    p.add_argument("out", type=Path)
    p.add_argument("--steps", type=int, default=12000)
    p.add_argument("--seconds", type=float, default=math.inf, help="stop after that many")
    p.add_argument("--batch", type=int, default=96)
    p.add_argument("--rate", type=float, default=2e-3)
    p.add_argument("--device", default="cpu", help="cpu or cuda")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--init", type=Path, help="weights to go on from")
    p.add_argument(
        "--teacher", type=Path, help="a wide network to imitate as well: its weights, or TorchScript"
    )
    p.add_argument("--wide", action="store_true", help="train a teacher; the product runs the small one")
    o = p.parse_args(arguments)
    try:
        plan = Plan(o.steps, o.batch, o.rate, o.device, o.seed, o.seconds)
        trainer = Trainer(open_dataset(o.data), plan, o.init, o.teacher, o.wide)
    except ValueError as error:
        print(f"This can't be trained: {error}", file=sys.stderr)
        return 64
    began = time.monotonic()
    history = trainer.run()
    print(
        f"{len(history)} steps in {time.monotonic() - began:.0f} s, "
        f"loss {history[0]:.2f} to {np.mean(history[-20:]):.2f}"
    )
    print(f"largest difference to ONNX Runtime: {trainer.save(o.out):.1e}; {trainer.held_out_line()}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
