"""Fit the single-frame confidence: ``python -m analysis.training.fit_confidence held_out.npz``.

Success is a direction within 5 degrees. Prints the weights that ``analysis/adapters/club_net.py`` holds, and
stated against observed shares on the half that was not fitted.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np

from analysis.adapters.club_net import Crop, decode_with_features
from analysis.club.logistic import chance, fit_chance
from analysis.training.labels import INDEX, SIDE
from analysis.types import Floats

WITHIN_DEG, ANSWERED = 5.0, 0.5
BINS = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.98, 1.0)
_WHOLE = Crop(0.0, 0.0, float(SIDE))


def direction_errors(
    dense: np.ndarray, clip: np.ndarray, labels: np.ndarray
) -> tuple[Floats, Floats, np.ndarray]:
    """Confidence features (N, F), errors (N,) in degrees (180 without a club), and the labels."""
    features, errors = [], []
    for maps, numbers, label in zip(dense, clip, labels, strict=True):
        glimpse, row = decode_with_features(maps.astype(float), numbers.astype(float), _WHOLE)
        gx, gy, hx, hy = label[:4]
        true = np.degrees(np.arctan2(hy - gy, hx - gx))
        wrong = abs((glimpse.deg - true + 180) % 360 - 180)
        features.append(row)
        errors.append(wrong if label[INDEX["has_club"]] > 0 else 180.0)
    return np.array(features), np.array(errors), labels


def reliability(confidence: Floats, errors: Floats) -> list[str]:
    """Lines of a table: stated confidence against the observed shares within 5 and 10 degrees."""
    lines = ["confidence      n  stated  within 5  within 10"]
    for low, high in pairwise(BINS):
        row = (confidence >= low) & ((confidence < high) | (high == 1.0))
        if row.any():
            e = errors[row]
            lines.append(
                f"{low:.2f}-{high:.2f} {row.sum():8d}   {confidence[row].mean():.3f}"
                f"     {np.mean(e < 5):.3f}      {np.mean(e < 10):.3f}"
            )
    return lines


def main(arguments: Sequence[str]) -> int:
    """Fit and print; returns the exit status."""
    p = argparse.ArgumentParser(prog="python -m analysis.training.fit_confidence", description=__doc__)
    p.add_argument("held_out", type=Path, nargs="+")
    options = p.parse_args(arguments)
    parts = []
    for path in options.held_out:
        with np.load(path) as z:
            parts.append([z[name] for name in ("features", "errors")])
    features, errors = (np.concatenate([part[k] for part in parts]) for k in (0, 1))
    success = errors < WITHIN_DEG
    half = np.arange(len(errors)) % 2 == 0
    read = chance(features[~half], fit_chance(features[half], success[half]))
    print("\n".join(reliability(read, errors[~half])))
    print([round(float(w), 6) for w in fit_chance(features, success)])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
