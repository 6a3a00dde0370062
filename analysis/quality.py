"""Whether a clip can be measured, and how to film it again if not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.body import middle, stature_px, torso_px
from analysis.types import JOINT_INDEX, Floats, PoseTrack, Problem

Box = tuple[float, float, float, float]
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
DARK_LUMA, VERY_DARK_LUMA = 42.0, 25.0
BLURRED, NO_DETAIL = 0.48, 0.2
# Shares of the longer side a second. At 0.07 a rendered clip's events still held, at 0.14 half of them were wrong.
SHAKY, TOO_SHAKY = 0.06, 0.11
# The codec's own coarseness (H.264 quantiser, 0..51; phones film at 15 to 30): at 38 the shaft is lost at times, at 45
# a third of the true values lay outside their intervals.
COMPRESSED, TOO_COMPRESSED = 35.0, 42.0
# Another person as tall as this share of the golfer, with less than this share of the golfer's height between them.
CLOSE_HEIGHT, CLOSE_GAP = 0.6, 0.35
LEAST_STATURE_SHARE, LEAST_STATURE_PX = 0.22, 90.0
LEAST_TRUNK_TO_LEGS, MOST_TRUNK_TO_LEGS = 0.2, 1.6
LONGEST_GAP_S = 0.12
SLOW_FPS = 50.0
CUT_SHARE = 0.4
# The crown is at least so many trunk lengths above nose and ears (common practice: a head is an eighth of the height,
# the trunk between shoulders and hips three tenths).
CROWN_TORSOS = 0.2

SENTENCES: dict[str, tuple[str, bool]] = {
    "no_golfer": (
        "No golfer was found in this clip. Film the whole body, head to feet, with the phone held still three to "
        "five metres away.",
        True,
    ),
    "no_swing": (
        "A person moves in the clip, but no full swing from address to finish is in it. Start filming before address "
        "and stop after the finish.",
        True,
    ),
    "only_standing": (
        "Someone stands in the clip, but nobody swings. Start filming just before address and stop after the finish.",
        True,
    ),
    "someone_close": (
        "Someone stands close beside the golfer, so the two bodies can be mixed up and the numbers are less sure. Film "
        "again with nobody within two club lengths of you, as the phone sees it.",
        False,
    ),
    "two_people": (
        "Two people of like size swing in this clip, so we can't tell which one is you. Film the swing again with only "
        "the golfer near the camera.",
        True,
    ),
    "someone_else": (
        "Someone else is in the picture. The one who swings was measured; check that the marked person is you.",
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
    "too_small_to_measure": (
        "The golfer is too small in the picture to be measured. Move the phone closer, three to five metres, or film "
        "at 1080p, so that the body fills about half the height.",
        True,
    ),
    "too_dark": (
        "The picture is dark. Film in better light or with the light behind the phone; the numbers are less sure.",
        False,
    ),
    "too_dark_to_measure": (
        "It is too dark in this clip to make out a golfer. Film in daylight or under the bay's lights, with the light "
        "behind the phone.",
        True,
    ),
    "blurred": (
        "The picture is blurred, so the numbers are less sure. Wipe the lens, tap the golfer to focus, and send the "
        "original file.",
        False,
    ),
    "too_blurred_to_measure": (
        "The picture is too blurred to make out a golfer. Wipe the lens, tap the golfer to focus, and film again.",
        True,
    ),
    "shaky": (
        "The camera moves during the clip, so the numbers are less sure. Put the phone on a stand or lean it on the "
        "bag.",
        False,
    ),
    "too_shaky_to_measure": (
        "The camera moves too much in this clip to measure the swing. Put the phone on a stand or lean it on the bag, "
        "and film again.",
        True,
    ),
    "compressed": (
        "This clip was squeezed hard on its way, so the numbers are less sure. Send the original file from the phone's "
        "gallery, not a copy from a messenger.",
        False,
    ),
    "too_compressed_to_measure": (
        "This clip was squeezed so hard on its way that the club and the hands are smeared. Send the original file "
        "from the phone's gallery, not a copy from a messenger, or film again at a higher quality.",
        True,
    ),
    "frames_missing": (
        "Pictures are missing in this clip, so times there are coarse. Send the original file, straight from the "
        "phone's camera.",
        False,
    ),
    "starts_late": (
        "The clip begins after the takeaway, so address and takeaway are missing. Start filming before you take the "
        "club back.",
        False,
    ),
    "ends_early": (
        "The clip ends before the finish, so the finish is missing. Keep filming until you have held the finish for a "
        "second.",
        False,
    ),
    "only_practice": (
        "This clip seems to hold practice swings only: no ball left and no strike was heard. Film swings that hit a "
        "ball if you can.",
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
    "slow_motion_timed": (
        "This clip plays in slow motion, and its file says how much slower: times are those of the real swing.",
        False,
    ),
    "view_unclear": (
        "The camera stands between face-on and down-the-line, so the numbers are less sure. Film square to the chest "
        "or straight along the target line.",
        False,
    ),
    "off_line": (
        "The camera stands well off the target line, or you aimed elsewhere, so the numbers are less sure. Put the "
        "phone at hand height behind the ball-target line, or lay a club along it to check.",
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
    """What the coarse pass saw.

    ``pose`` is the golfer's coarse track. ``luma`` is the golfer's mean brightness, 0..255; ``sharpness`` the
    detail left in the golfer's picture, 0..1; ``shake`` how fast the background moves, shares of the longer side
    a second. ``people`` are boxes (pixels) of those who stay in the picture, ``golfer`` the number of the one
    measured, ``rivals`` how many others of like size swing too. ``region`` is the part of the picture (pixels)
    the golfer is looked for in; None is all of it. ``quantiser`` is the codec's coarseness, None where it isn't told.
    """

    pose: PoseTrack
    luma: float
    sharpness: float = 1.0
    shake: float = 0.0
    people: tuple[Box, ...] = ()
    golfer: int | None = None
    rivals: int = 0
    region: Box | None = None
    quantiser: float | None = None


def body_confidence(pose: PoseTrack) -> Floats:
    """Mean confidence (T,) of the main joints in each frame."""
    rows = [JOINT_INDEX[name] for name in BODY]
    return np.asarray(pose.confidence[:, rows].mean(1))


def _share(frames: NDArray[np.bool_]) -> float:
    """Share of frames that are True, 0 without any frame."""
    return float(frames.mean()) if frames.size else 0.0


def golfer_seen(pose: PoseTrack) -> bool:
    """Whether a whole person is there in at least half of the frames."""
    return _share(person_like(pose) & sure(pose)) >= LEAST_SEEN_SHARE


def sure(pose: PoseTrack) -> NDArray[np.bool_]:
    """Frames (T,) in which the main joints are seen with confidence."""
    return np.asarray(body_confidence(pose) >= LEAST_BODY_CONFIDENCE)


def person_like(pose: PoseTrack) -> NDArray[np.bool_]:
    """Frames (T,) in which the joints stand as a golfer's do: head over hips over feet, trunk and legs in proportion.

    Trunk and legs are compared along the picture; a bent or crouching golfer is within the bounds, landmarks
    laid over a shoe or a bag are not.
    """
    shoulders, hips, ankles = (middle(pose, part) for part in ("shoulder", "hip", "ankle"))
    head = middle(pose, "ear")[:, 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        trunk, legs = hips[:, 1] - shoulders[:, 1], ankles[:, 1] - hips[:, 1]
        upright = (head < hips[:, 1]) & (trunk > 0) & (legs > 0)
        like = (trunk / legs > LEAST_TRUNK_TO_LEGS) & (trunk / legs < MOST_TRUNK_TO_LEGS)
    return np.asarray(upright & like)


def cut_off_share(pose: PoseTrack) -> float:
    """Share of the frames with a person in which a foot, hip, shoulder or the head lies outside the picture.

    The pose model puts a head that it can't see just inside the picture's edge: a face so close under it that the
    crown can't be in the picture is cut off, too.
    """
    names = (*BODY, "nose", "left_foot_index", "right_foot_index")
    known = np.isfinite(pose.xy).all((1, 2))
    if not known.any():
        return 0.0
    crown_px = CROWN_TORSOS * torso_px(pose)
    head = pose.xy[:, [JOINT_INDEX[name] for name in ("nose", "left_ear", "right_ear")], 1].min(1)
    cut = _outside(pose, names, 0.0).any(1) | (head < crown_px)
    return _share(np.asarray(cut[known]))


def _outside(pose: PoseTrack, names: tuple[str, ...], margin_px: float) -> NDArray[np.bool_]:
    """Whether each joint (T, N) lies outside the picture, or closer to its edge than the margin."""
    xy = pose.xy[:, [JOINT_INDEX[name] for name in names]]
    with np.errstate(invalid="ignore"):
        return np.asarray(
            (xy[..., 0] < margin_px)
            | (xy[..., 0] > pose.width - 1 - margin_px)
            | (xy[..., 1] < margin_px)
            | (xy[..., 1] > pose.height - 1 - margin_px)
        )


def look_problems(look: Look, fps: float) -> list[Problem]:
    """Problems the coarse pass shows before any swing is looked for.

    Parameters
    ----------
    look : Look
    fps : float
        Frames a second of the clip, in real time.

    Returns
    -------
    list of Problem
        Either fatal ones alone, or what makes the numbers less sure.
    """
    # Where nobody is seen, the camera and the codec are not what is wrong.
    codes = _body_codes(look) or _unmeasurable_codes(look)
    found = [problem(code) for code in (*codes, *_people_codes(look))]
    if fatal := [p for p in found if p.fatal]:
        # What else is wrong with the picture would only blur what to do next.
        return fatal
    found += [problem(code) for code in _picture_codes(look)]
    if fps < SLOW_FPS:
        found.append(problem("too_slow_fps"))
    if longest_gap_s(look.pose) > LONGEST_GAP_S:
        found.append(problem("frames_missing"))
    return found


def _body_codes(look: Look) -> list[str]:
    pose = look.pose
    cut = cut_off_share(pose)
    if not golfer_seen(pose):
        someone = _share(body_confidence(pose) >= 0.3) >= LEAST_SEEN_SHARE
        if cut >= CUT_SHARE and someone:
            return ["body_cut_off"]
        if look.luma < VERY_DARK_LUMA:
            return ["too_dark_to_measure"]
        return ["too_blurred_to_measure"] if look.sharpness < NO_DETAIL else ["no_golfer"]
    if cut >= CUT_SHARE:
        return ["body_cut_off"]
    share = stature_px(pose) / pose.height
    if share * max(pose.height, 1) < LEAST_STATURE_PX:
        return ["too_small_to_measure"]
    return ["too_far"] if share < LEAST_STATURE_SHARE else []


def _people_codes(look: Look) -> list[str]:
    if look.rivals:
        return ["two_people"]
    if len(look.people) < 2:
        return []
    return ["someone_close" if _someone_close(look) else "someone_else"]


def _someone_close(look: Look) -> bool:
    golfer = look.people[look.golfer or 0]
    tall = golfer[3] - golfer[1]
    others = [box for box in look.people if box is not golfer and box[3] - box[1] >= CLOSE_HEIGHT * tall]
    return any(max(box[0] - golfer[2], golfer[0] - box[2]) < CLOSE_GAP * tall for box in others)


def _unmeasurable_codes(look: Look) -> list[str]:
    found = []
    if look.shake > TOO_SHAKY:
        found.append("too_shaky_to_measure")
    if (look.quantiser or 0.0) > TOO_COMPRESSED:
        found.append("too_compressed_to_measure")
    return found


def _picture_codes(look: Look) -> list[str]:
    found = []
    if look.luma < DARK_LUMA:
        found.append("too_dark")
    if look.sharpness < BLURRED:
        found.append("blurred")
    if look.shake > SHAKY:
        found.append("shaky")
    if (look.quantiser or 0.0) > COMPRESSED:
        found.append("compressed")
    return found


def longest_gap_s(pose: PoseTrack) -> float:
    """How much longer than usual the longest time between two coarse frames is, seconds."""
    steps = np.diff(pose.t_s)
    return float(steps.max() - np.median(steps)) if steps.size else 0.0


def reaches_edge(pose: PoseTrack) -> bool:
    """Whether a hand, foot or the head comes within 1.5 % of the picture's edge in a swing's frames."""
    names = ("nose", "left_wrist", "right_wrist", "left_foot_index", "right_foot_index")
    near = _outside(pose, names, 0.015 * pose.height) & (
        pose.confidence[:, [JOINT_INDEX[name] for name in names]] >= 0.5
    )
    return bool(near.any(1).sum() >= 2)
