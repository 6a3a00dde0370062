"""Many samples in two memory-mapped files, made by several processes: ``python -m analysis.training.dataset``."""

from __future__ import annotations

import argparse
import multiprocessing as mp
import sys
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analysis.training.labels import INDEX, NAMES, SIDE

MOST_FAILURES = 200


@dataclass(frozen=True, slots=True)
class Dataset:
    """``pictures`` (N, 5, 256, 256) uint8 and ``labels`` (N, 40) float32; rows are there once written."""

    pictures: np.ndarray
    labels: np.ndarray

    @property
    def written(self) -> int:
        """How many rows are there from the first on."""
        done = self.labels[:, INDEX["written"]] == 1
        return int(done.argmin()) if not done.all() else len(done)


def open_dataset(folder: Path) -> Dataset:
    """A dataset on disk, read only.

    Raises
    ------
    ValueError
        If the folder holds none.
    """
    files = [folder / "pictures.npy", folder / "labels.npy"]
    if not all(f.is_file() for f in files):
        raise ValueError(f"{folder.name} holds no dataset; make one with python -m analysis.training.dataset")
    return Dataset(*(np.load(f, mmap_mode="r") for f in files))


def create_dataset(folder: Path, count: int) -> None:
    """Empty files for ``count`` samples.

    Raises
    ------
    ValueError
        If ``count`` is not positive.
    """
    if count < 1:
        raise ValueError(f"count must be at least 1, got {count}")
    folder.mkdir(parents=True, exist_ok=True)
    shapes: list[tuple[str, Any, tuple[int, ...]]] = [
        ("pictures.npy", np.uint8, (count, 5, SIDE, SIDE)),
        ("labels.npy", np.float32, (count, len(NAMES))),
    ]
    for name, kind, shape in shapes:
        np.lib.format.open_memmap(folder / name, "w+", kind, shape)


def _work(folder: Path, counter: Any, seed: int, until: float, device: int) -> None:
    from analysis.training.samples import SampleMaker

    pictures = np.load(folder / "pictures.npy", mmap_mode="r+")
    labels = np.load(folder / "labels.npy", mmap_mode="r+")
    maker, failures = SampleMaker(seed, device), 0
    while time.time() < until:
        try:
            picture, label = maker.sample()
        except (ValueError, ArithmeticError, np.linalg.LinAlgError):
            # A drawn swing can be one that no body can do; too many mean that something is broken.
            failures += 1
            if failures == 1:
                traceback.print_exc()
            if failures > MOST_FAILURES:
                return
            continue
        with counter.get_lock():
            k = counter.value
            if k >= len(labels):
                return
            counter.value += 1
        label[INDEX["written"]] = 1
        pictures[k], labels[k] = picture, label


def start_making(
    folder: Path, count: int, workers: int, seed: int, seconds: float, device: int = 0
) -> tuple[list[Any], Any]:
    """Start ``workers`` processes that fill a new dataset.

    Returns
    -------
    processes, counter
        Keep the counter as long as they run: it goes with its last holder.
    """
    create_dataset(folder, count)
    context = mp.get_context("spawn")
    counter, until = context.Value("i", 0), time.time() + seconds
    made = [
        context.Process(target=_work, args=(folder, counter, seed * 1000 + k, until, device), daemon=True)
        for k in range(workers)
    ]
    for process in made:
        process.start()
    return made, counter


def main(arguments: Sequence[str]) -> int:
    """Make a dataset; returns the exit status."""
    p = argparse.ArgumentParser(prog="python -m analysis.training.dataset", description=__doc__)
    p.add_argument("folder", type=Path)
    p.add_argument("--count", type=int, default=200)
    p.add_argument("--workers", type=int, default=1)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--seconds", type=float, default=600, help="stop after that many")
    options = p.parse_args(arguments)
    began = time.monotonic()
    made, _counter = start_making(
        options.folder, options.count, options.workers, options.seed, options.seconds
    )
    for process in made:
        process.join()
    count = open_dataset(options.folder).written
    print(f"{count} samples in {time.monotonic() - began:.0f} s")
    return 0 if count == options.count else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
