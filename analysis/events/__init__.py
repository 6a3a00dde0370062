"""Swing events at sub-frame times with standard errors."""

from analysis.events.detect import detect_events

__all__ = ["detect_events"]
