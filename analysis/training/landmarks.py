"""Names and places of the body points a truth file carries."""

from __future__ import annotations

from analysis.training.body import Body
from analysis.training.pose import Pose
from analysis.types import Floats

_BONES = {
    "shoulder": "upperarm01",
    "elbow": "lowerarm01",
    "wrist": "wrist",
    "hip": "upperleg01",
    "knee": "lowerleg01",
    "ankle": "foot",
    "index": "finger2-1",
    "pinky": "finger5-1",
    "thumb": "finger1-2",
}
_SURFACE = ("nose", "left_eye", "right_eye", "left_ear", "right_ear", "left_heel", "right_heel")


def landmarks(body: Body, pose: Pose) -> dict[str, Floats]:
    """World places (3,) by name: joint centres by plain name, surface points as ``coco_NAME``."""
    points: dict[str, Floats] = {}
    for letter, side in (("L", "left"), ("R", "right")):
        for name, bone in _BONES.items():
            points[f"{side}_{name}"] = pose.places[body.index[f"{bone}.{letter}"]]
    points |= {"pelvis": pose.places[body.index["root"]], "neck": pose.places[body.index["neck01"]]}
    points["head"] = pose.places[body.index["head"]]
    surface = body.landmarks(body.skin(pose.rotations, pose.places))
    points |= {f"coco_{name}": place for name, place in surface.items()}
    points |= {name: surface[name] for name in _SURFACE}
    points |= {f"{side}_foot_index": surface[f"{side}_big_toe"] for side in ("left", "right")}
    return points


def mirrored(names: list[str]) -> list[str]:
    """The names in a mirrored picture: left and right change places."""
    other = {"left": "right", "right": "left"}
    return ["_".join(other.get(word, word) for word in name.split("_")) for name in names]
