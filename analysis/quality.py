"""Whether a clip can be measured, and how to film it again if not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.body import stature_px
from analysis.types import JOINT_INDEX, Floats, PoseTrack, Problem

BODY = (
    "left_shoulder",
    "right_shoulder",
    "left_hip",
    "right_hip",
    "left_knee",
    "right_knee",
    "left_ankle",
    "right_ankle",
)
# Presence is not validity: a clip of a foot gave mean visibility 0.34, good clips 0.75 or more.
LEAST_BODY_CONFIDENCE = 0.6
LEAST_SEEN_SHARE = 0.5
DARK_LUMA = 42.0
SECOND_PERSON_WARN, SECOND_PERSON_FATAL = 0.45, 0.75
LEAST_STATURE_SHARE = 0.22
SLOW_FPS = 50.0
CUT_SHARE = 0.4

SENTENCES: dict[str, tuple[str, bool]] = {
    "no_golfer": (
        "No golfer was found in this clip. Film the whole body, head to feet, with the phone held still three to "
        "five metres away.",
        True,
    ),
    "no_swing": (
        "A person is in the clip, but no full swing from address to finish. Start filming before address and stop "
        "after the finish.",
        True,
    ),
    "two_people": (
        "Two people fill the picture. Film the swing again with only the golfer near the camera.",
        True,
    ),
    "someone_else": (
        "Someone else is in the picture. The larger, more central person was measured; check that it is you.",
        False,
    ),
    "body_cut_off": (
        "Part of the body is outside the picture. Step the phone back so that head, feet and the club at the top fit "
        "with some room to spare.",
        True,
    ),
    "edge_of_picture": (
        "The body or the club comes close to the picture's edge at times. Step the phone back a little next time.",
        False,
    ),
    "too_far": (
        "The golfer is small in the picture. Move the phone closer, three to five metres, so that the body fills about "
        "half the height.",
        False,
    ),
    "too_dark": (
        "The picture is dark. Film in better light or with the light behind the phone; the numbers are less sure.",
        False,
    ),
    "too_slow_fps": (
        "This clip has fewer than 50 frames a second, so times near impact are coarse. Set the phone to 60 or more, "
        "better 120 or 240.",
        False,
    ),
    "several_swings": (
        "This clip holds several swings; each one is measured by itself.",
        False,
    ),
    "slow_motion": (
        "This clip plays in slow motion, so times in seconds are left out. Send the original file if you can.",
        False,
    ),
    "view_unclear": (
        "The camera stands between face-on and down-the-line, so the numbers are less sure. Film square to the chest "
        "or straight along the target line.",
        False,
    ),
    "view_differs": (
        "The picture looks like the other view than the one you named. The measured view was used; please check.",
        False,
    ),
    "mirrored": (
        "The swing looks like the other hand's. Is this video mirrored? A selfie camera mirrors; film with the back "
        "camera. The hand you named was kept.",
        False,
    ),
    "from_behind": (
        "The camera looks at the golfer's back. Film face-on from the ball's side, or down-the-line.",
        True,
    ),
    "club_unseen": (
        "The club could not be followed, so shaft numbers are missing. A plain background and more light help.",
        False,
    ),
}


def problem(code: str) -> Problem:
    """The Problem with its sentence.

    Raises
    ------
    ValueError
        If the code is unknown.
    """
    if code not in SENTENCES:
        raise ValueError(f"code must be one of {sorted(SENTENCES)}, got {code!r}")
    sentence, fatal = SENTENCES[code]
    return Problem(code, sentence, fatal)


@dataclass(frozen=True, slots=True)
class Look:
    """What the coarse pass saw: pose, brightness of the golfer (0..255), relative size of a second person."""

    pose: PoseTrack
    luma: float
    second_person: float


def body_confidence(pose: PoseTrack) -> Floats:
    """Mean confidence (T,) of the main joints in each frame."""
    rows = [JOINT_INDEX[name] for name in BODY]
    return np.asarray(pose.confidence[:, rows].mean(1))


def golfer_seen(pose: PoseTrack) -> bool:
    """Whether a whole person is there in at least half of the frames."""
    return bool((body_confidence(pose) >= LEAST_BODY_CONFIDENCE).mean() >= LEAST_SEEN_SHARE)


def cut_off_share(pose: PoseTrack) -> float:
    """Share of frames in which a foot, hip, shoulder or the head lies outside the picture."""
    names = (*BODY, "nose", "left_foot_index", "right_foot_index")
    xy = pose.xy[:, [JOINT_INDEX[name] for name in names]]
    with np.errstate(invalid="ignore"):
        out = (
            (xy[..., 0] < 0)
            | (xy[..., 0] > pose.width - 1)
            | (xy[..., 1] < 0)
            | (xy[..., 1] > pose.height - 1)
        )
    return float(out.any(1).mean())


def look_problems(look: Look, fps: float) -> list[Problem]:
    """Problems the coarse pass shows before any swing is looked for."""
    found: list[Problem] = []
    cut = cut_off_share(look.pose)
    if not golfer_seen(look.pose):
        someone = bool((body_confidence(look.pose) >= 0.3).mean() >= LEAST_SEEN_SHARE)
        found.append(problem("body_cut_off" if cut >= CUT_SHARE and someone else "no_golfer"))
    elif cut >= CUT_SHARE:
        found.append(problem("body_cut_off"))
    elif stature_px(look.pose) < LEAST_STATURE_SHARE * look.pose.height:
        found.append(problem("too_far"))
    if look.second_person >= SECOND_PERSON_FATAL:
        found.append(problem("two_people"))
    elif look.second_person >= SECOND_PERSON_WARN:
        found.append(problem("someone_else"))
    if look.luma < DARK_LUMA:
        found.append(problem("too_dark"))
    if fps < SLOW_FPS:
        found.append(problem("too_slow_fps"))
    return found
