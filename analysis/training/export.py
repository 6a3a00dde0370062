"""Write the trained network as ONNX and check it against OpenCV's dnn module."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from analysis.training.labels import SIDE

AGREE = 1e-3


def write_onnx(network: Any, path: Path) -> None:
    """Export with outputs ``dense`` and ``glob`` (ONNX operator set 13)."""
    import torch

    sample = torch.zeros(1, 5, SIDE, SIDE)
    names: dict[str, Any] = {"input_names": ["x"], "output_names": ["dense", "glob"]}
    torch.onnx.export(network.cpu().eval(), (sample,), str(path), opset_version=13, dynamo=False, **names)


def difference(network: Any, path: Path, pictures: np.ndarray) -> float:
    """Largest difference between torch and OpenCV's dnn over pictures (N, 5, S, S), 0..1 float32."""
    import cv2
    import torch

    reader = cv2.dnn.readNet(str(path))
    worst = 0.0
    for picture in pictures:
        reader.setInput(picture[None], "x")
        found = reader.forward(["dense", "glob"])
        with torch.no_grad():
            wanted = network.cpu().eval()(torch.from_numpy(picture[None]))
        for a, b in zip(found, wanted, strict=True):
            worst = max(worst, float(np.abs(np.asarray(a) - b.numpy()).max()))
    return worst


def checked_export(network: Any, path: Path, pictures: np.ndarray) -> float:
    """Export, compare, and return the difference.

    Raises
    ------
    ValueError
        If OpenCV's answers differ by more than ``AGREE``.
    """
    write_onnx(network, path)
    worst = difference(network, path, pictures)
    if worst > AGREE:
        raise ValueError(f"{path.name} answers differently in OpenCV: by {worst:.2g}, allowed {AGREE:g}")
    return worst
