"""Fault patterns as declared evidence over metrics."""

from analysis.signs.bands import Bands
from analysis.signs.evaluate import find_signs
from analysis.signs.stored import judge_stored

__all__ = ["Bands", "find_signs", "judge_stored"]
