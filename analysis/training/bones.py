"""A skeleton while it is being posed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.training.body import Body
from analysis.types import Floats


@dataclass(slots=True)
class Bones:
    """Rotations and places while the skeleton is being built."""

    body: Body
    rotations: Floats
    places: Floats

    def put(self, name: str, rotation: Floats, place: Floats | None = None) -> None:
        """Turn a bone; without a place it hangs at its parent."""
        k = self.body.index[name]
        self.rotations[k] = rotation
        if place is None:
            parent = self.body.parents[k]
            hang = self.body.heads[k] - self.body.heads[parent]
            place = self.places[parent] + self.rotations[parent] @ hang
        self.places[k] = place

    def at(self, name: str) -> Floats:
        """Copy of a bone's place."""
        return np.asarray(self.places[self.body.index[name]].copy())

    def turned(self, name: str) -> Floats:
        """A bone's rotation."""
        return np.asarray(self.rotations[self.body.index[name]])
