"""Measuring golf swings in video: arrays in, dataclasses out.

Importing this package loads neither the pose library nor OpenCV; the adapters load them on first use.
"""

from __future__ import annotations

from analysis.version import ANALYSIS_VERSION, model_digest

__all__ = ["ANALYSIS_VERSION", "model_digest"]
