"""Digests of the vendored model files, and the check before one is opened."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

MODELS = Path(__file__).parent / "models"
SHA256 = {
    "pose_full.task": "f88c78b7603561377c586f98a5fed2c90ec790baca35cf8aabeb8aa705453ff3",
    "shaft.onnx": "460344555a209eff39722e2529f6fbf30b213d28c9522c01d95366f7107c3cf3",
}


@cache
def checked_model(name: str) -> Path:
    """Path of a vendored model after its digest was compared.

    Parameters
    ----------
    name : str
        A key of ``SHA256``.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ValueError
        If the name is unknown, or the file is missing or altered.
    """
    if name not in SHA256:
        raise ValueError(f"name must be one of {sorted(SHA256)}, got {name!r}")
    path = MODELS / name
    if not path.is_file():
        raise ValueError(f"the model file {name} is missing from analysis/adapters/models; restore it")
    found = hashlib.sha256(path.read_bytes()).hexdigest()
    if found != SHA256[name]:
        raise ValueError(f"the model file {name} is altered: sha256 is {found}, expected {SHA256[name]}")
    return path
