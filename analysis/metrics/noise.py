"""How far landmarks and shaft are off: standard deviations used to propagate errors.

Shares of the standing height, from comparing the pose model with 50 rendered clips (14 down-the-line, 36
face-on): a part that stays the same through a swing (``common``) and a part that is new at each instant.
Real clothes and light are harder; the floors in the metric registry widen the result.
"""

from __future__ import annotations

COMMON = 0.003
INDEPENDENT = {
    "nose": 0.005,
    "ear": 0.005,
    "shoulder": 0.006,
    "elbow": 0.006,
    "wrist": 0.006,
    "index": 0.02,
    "hip": 0.005,
    "knee": 0.005,
    "ankle": 0.004,
    "heel": 0.005,
    "foot_index": 0.007,
}
SHAFT_DEG = 1.0
# How far the line shoulder to wrist may stand off the forearm, where the elbow is hidden.
HIDDEN_ELBOW_DEG = 10.0
GRIP = 0.008
# A landmark the model is this unsure of was 15 to 26 % of the height off at the 90th percentile.
LEAST_CONFIDENCE = 0.5


def independent(joint: str) -> float:
    """Standard deviation of one coordinate at one instant, share of the standing height."""
    part = joint.removeprefix("left_").removeprefix("right_")
    return INDEPENDENT[part]
