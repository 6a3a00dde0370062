"""Fault patterns as declared evidence over metrics."""

from analysis.signs.evaluate import find_signs

__all__ = ["find_signs"]
