"""Numerical treatment of tracks: filter, gaps, derivatives."""
