"""Measured numbers of one swing, each with a standard error or a reason why there is none."""

from analysis.metrics.evaluate import measure

__all__ = ["measure"]
