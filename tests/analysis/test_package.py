"""The package stays light to import and says what made a result."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import analysis
from analysis.adapters import digests

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("module", ["analysis", "analysis.pipeline", "analysis.signs", "analysis.cli"])
def test_importing_loads_no_framework_and_no_pose_library(module: str) -> None:
    code = (
        f"import sys, {module}; "
        "bad = {'django', 'celery', 'mediapipe', 'cv2', 'av', 'scipy'} & set(sys.modules); "
        "sys.exit(', '.join(sorted(bad)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_digest_covers_every_model_file() -> None:
    files = {p.name for p in digests.MODELS.iterdir() if p.suffix != ".md"}
    assert files == set(digests.SHA256)
    assert len(analysis.model_digest()) == 16
    for name in files:
        assert digests.checked_model(name).is_file()


def test_an_altered_model_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(digests.SHA256, "shaft.onnx", "0" * 64)
    digests.checked_model.cache_clear()
    with pytest.raises(ValueError, match=r"shaft\.onnx is altered"):
        digests.checked_model("shaft.onnx")
    digests.checked_model.cache_clear()


def test_an_unknown_model_is_refused() -> None:
    with pytest.raises(ValueError, match="name must be one of"):
        digests.checked_model("other.task")
