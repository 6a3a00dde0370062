"""How far landmarks and shaft are off: what error propagation starts from.

The scatter of joints by view and instant stands in ``landmark_offsets.csv`` (see ``offsets``); the numbers here are
what the table doesn't hold. Shares of the standing height, from comparing the pose model with rendered clips. Real
clothes and light are harder.
"""

from __future__ import annotations

COMMON = 0.003
# Share of a joint's scatter (as a correlation's root) that stays the same through one swing.
COMMON_SHARE = 0.5
SHAFT_DEG = 1.0
# How far the line shoulder to wrist may stand off the forearm, where the elbow is hidden.
HIDDEN_ELBOW_DEG = 10.0
GRIP = 0.008
# A landmark the model is this unsure of was 15 to 26 % of the height off at the 90th percentile.
LEAST_CONFIDENCE = 0.5
