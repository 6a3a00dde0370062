"""Train the shaft network: ``python -m analysis.training.train DATA OUT [--init last.pt] [--teacher teacher.pt]``.

Samples may still be coming in from ``analysis.training.dataset`` while this runs. Writes ``last.pt`` (averaged
weights), ``shaft.onnx`` (checked against OpenCV) and ``held_out.npz`` (answers on samples that were never
trained on, for ``analysis.training.fit_confidence``).
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
from analysis.training.losses import losses_of
from analysis.training.targets import cell_centres, targets_of

WARM_STEPS = 300
CLIP_GRADIENT = 5.0
TEACHER_SHARE = 0.7
MOST_HELD_OUT = 1200


@dataclass(frozen=True, slots=True)
class Plan:
    """``steps`` of ``batch`` samples at a cosine learning rate from ``rate``; ``device`` as torch names it."""

    steps: int
    batch: int = 96
    rate: float = 2e-3
    device: str = "cpu"
    seed: int = 1


def learning_rate(plan: Plan, step: int) -> float:
    """Warm up over 300 steps, then fall along a cosine."""
    warm = min(1.0, (step + 1) / WARM_STEPS)
    return plan.rate * warm * (0.5 + 0.5 * math.cos(math.pi * min(1.0, step / plan.steps))) + 1e-6


class Trainer:
    """Holds the network, its running average and the samples.

    Parameters
    ----------
    data : Dataset
    plan : Plan
    init, teacher : Path, optional
        Weights to go on from, and of a network whose answers are imitated too.
    """

    def __init__(
        self, data: Dataset, plan: Plan, init: Path | None = None, teacher: Path | None = None
    ) -> None:
        import torch

        from analysis.training.net import ShaftNetwork

        torch.manual_seed(plan.seed)
        self._torch, self._data, self.plan = torch, data, plan
        self.held_out = min(MOST_HELD_OUT, max(1, data.written // 8))
        self.network = ShaftNetwork().to(plan.device)
        if init is not None:
            self.network.load_state_dict(torch.load(init, map_location=plan.device, weights_only=True))
        self._teacher = None if teacher is None else ShaftNetwork().to(plan.device).eval()
        if self._teacher is not None:
            self._teacher.load_state_dict(torch.load(teacher, map_location=plan.device, weights_only=True))
        self.average = copy.deepcopy(self.network).eval()
        self._optimiser: Any = torch.optim.AdamW(self.network.parameters(), plan.rate, weight_decay=0.02)
        self._centres = cell_centres(torch).to(plan.device)
        self._draw = np.random.default_rng(plan.seed)

    def run(self, report: Any = print) -> list[float]:
        """All steps; returns the loss of each."""
        history = []
        for step in range(self.plan.steps):
            for group in self._optimiser.param_groups:
                group["lr"] = learning_rate(self.plan, step)
            history.append(self.step())
            self._update_average(step)
            if step % 200 == 199:
                report(f"step {step + 1}: loss {np.mean(history[-100:]):.3f}, {self.held_out_line()}")
        return history

    def step(self) -> float:
        """One batch; returns its loss."""
        from analysis.training.augment import augmented

        torch = self._torch
        rows = np.sort(self._draw.integers(self.held_out, self._data.written, self.plan.batch))
        pictures, labels = self._batch(rows)
        with torch.no_grad():
            x, points = augmented(pictures, labels)
        loss = self._loss(x, points, labels)
        self._optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.network.parameters(), CLIP_GRADIENT)
        self._optimiser.step()
        return float(loss.detach())

    def _batch(self, rows: np.ndarray) -> tuple[Any, Any]:
        send = self._torch.from_numpy
        device = self.plan.device
        return send(self._data.pictures[rows]).to(device), send(self._data.labels[rows]).to(device)

    def _loss(self, x: Any, points: Any, labels: Any) -> Any:
        torch = self._torch
        with torch.autocast(
            self.plan.device.split(":")[0], torch.bfloat16, enabled=self.plan.device != "cpu"
        ):
            dense, clip = self.network(x)
        dense, clip = dense.float(), clip.float()
        wanted = targets_of(torch, points, labels, self._centres)
        loss = losses_of(torch, dense, clip, points, labels, wanted, self._centres).total
        return loss if self._teacher is None else loss + TEACHER_SHARE * self._imitation(x, dense)

    def _imitation(self, x: Any, dense: Any) -> Any:
        """Distance to the teacher's maps."""
        torch = self._torch
        soft = torch.nn.functional
        with torch.no_grad():
            said = self._teacher(x)[0].float() if self._teacher is not None else dense
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
            pairs = zip(self.average.state_dict().values(), self.network.state_dict().values(), strict=True)
            for mean, now in pairs:
                if mean.dtype.is_floating_point:
                    mean.lerp_(now, 1 - keep)
                else:
                    mean.copy_(now)

    def answers(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Maps, clip-level numbers and labels of the held-out samples, from the averaged weights."""
        dense, clip = [], []
        with self._torch.no_grad():
            for first in range(0, self.held_out, 64):
                pictures, _ = self._batch(np.arange(first, min(self.held_out, first + 64)))
                d, c = self.average(pictures.float() / 255)
                dense.append(d.cpu().numpy().astype(np.float16))
                clip.append(c.cpu().numpy())
        return np.concatenate(dense), np.concatenate(clip), np.array(self._data.labels[: self.held_out])

    def held_out_line(self) -> str:
        """How well the averaged weights do on the held-out samples with half of the shaft in sight."""
        from analysis.training.fit_confidence import direction_errors

        _, errors, labels = direction_errors(*self.answers())
        seen = labels[:, 8] >= 0.5
        if not seen.any():
            return "no held-out sample shows half of its shaft"
        e = errors[seen]
        return f"held out: within 5 deg {np.mean(e < 5):.3f}, within 10 {np.mean(e < 10):.3f}, n {len(e)}"

    def save(self, folder: Path) -> float:
        """Write weights, ONNX and held-out answers; returns the difference to OpenCV."""
        from analysis.training.export import checked_export

        folder.mkdir(parents=True, exist_ok=True)
        self._torch.save(self.average.state_dict(), folder / "last.pt")
        dense, clip, labels = self.answers()
        np.savez_compressed(folder / "held_out.npz", dense=dense, clip=clip, labels=labels)
        pictures = self._data.pictures[:4].astype(np.float32) / 255
        return checked_export(copy.deepcopy(self.average), folder / "shaft.onnx", pictures)


def main(arguments: Sequence[str]) -> int:
    """Train; returns the exit status."""
    p = argparse.ArgumentParser(prog="python -m analysis.training.train", description=__doc__)
    p.add_argument("data", type=Path)
    p.add_argument("out", type=Path)
    p.add_argument("--steps", type=int, default=3600)
    p.add_argument("--batch", type=int, default=96)
    p.add_argument("--rate", type=float, default=2e-3)
    p.add_argument("--device", default="cpu", help="cpu or cuda")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--init", type=Path, help="weights to go on from")
    p.add_argument("--teacher", type=Path, help="weights of a network to imitate as well")
    o = p.parse_args(arguments)
    try:
        plan = Plan(o.steps, o.batch, o.rate, o.device, o.seed)
        trainer = Trainer(open_dataset(o.data), plan, o.init, o.teacher)
    except ValueError as error:
        print(f"This can't be trained: {error}", file=sys.stderr)
        return 64
    began = time.monotonic()
    history = trainer.run()
    print(
        f"{o.steps} steps in {time.monotonic() - began:.0f} s, loss {history[0]:.2f} to {np.mean(history[-20:]):.2f}"
    )
    print(f"largest difference to OpenCV's dnn: {trainer.save(o.out):.1e}; {trainer.held_out_line()}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
