"""Write the trained network as ONNX and check it in the runtime that the product uses."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from analysis.training.labels import SIDE

AGREE = 1e-3


def write_onnx(network: Any, path: Path) -> None:
    """Export with outputs ``dense`` and ``glob`` (ONNX operator set 13); height and width stay open."""
    import torch

    sample = torch.zeros(1, 5, SIDE, SIDE)
    names: dict[str, Any] = {"input_names": ["x"], "output_names": ["dense", "glob"]}
    names["dynamic_axes"] = {"x": {2: "h", 3: "w"}, "dense": {2: "h4", 3: "w4"}}
    torch.onnx.export(network.cpu().eval(), (sample,), str(path), opset_version=13, dynamo=False, **names)


def difference(network: Any, path: Path, pictures: np.ndarray) -> float:
    """Largest difference between torch and ONNX Runtime over pictures (N, 5, S, S), 0..1 float32."""
    import onnxruntime
    import torch

    reader = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    worst = 0.0
    for picture in pictures:
        found = reader.run(["dense", "glob"], {"x": picture[None]})
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
        If ONNX Runtime's answers differ by more than ``AGREE``.
    """
    write_onnx(network, path)
    worst = difference(network, path, pictures)
    if worst > AGREE:
        raise ValueError(
            f"{path.name} answers differently in ONNX Runtime: by {worst:.2g}, allowed {AGREE:g}"
        )
    return worst
