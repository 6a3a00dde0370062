"""Scoring the engine on clips with exact truth."""

from analysis.bench.run import run_bench

__all__ = ["run_bench"]
