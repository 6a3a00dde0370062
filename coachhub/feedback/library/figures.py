"""Our own line drawing of each shipped drill, for a right-handed player.

``python -m coachhub.feedback.library.figures FOLDER`` writes the files that the pages show.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from coachhub.feedback.library.stick_figure import (
    ACCENT,
    FAINT,
    GROUND,
    INK,
    Point,
    Pose,
    ball,
    box,
    curve,
    disc,
    figure,
    path,
    picture,
    stick,
    wall,
)


def front(pelvis: Point, neck: Point, hands: Point, club: float, *, heel: float = 0) -> Pose:
    """Seen from the front; the target is to the right."""
    return Pose(
        pelvis, neck, hands, lead_foot=(142, GROUND), trail_foot=(96, GROUND), club=club, trail_heel_up=heel
    )


def behind(pelvis: Point, neck: Point, hands: Point, club: float, head: Point) -> Pose:
    """Seen from behind, along the target line; the ball is to the right."""
    return Pose(
        pelvis,
        neck,
        hands,
        lead_foot=(94, GROUND),
        trail_foot=(92, GROUND),
        club=club,
        head=head,
        from_side=True,
    )


ADDRESS = front((118, 108), (116, 58), (120, 112), 88)
TOP = front((114, 108), (113, 60), (84, 44), -14)
LEVEL = front((115, 108), (113, 60), (74, 74), -100)
BACK_WAIST = front((116, 108), (114, 59), (82, 100), 180)
DOWN = front((121, 108), (113, 60), (92, 100), 190)
IMPACT = front((126, 107), (116, 59), (131, 111), 101, heel=3)
THROUGH = front((129, 107), (118, 59), (158, 100), 8, heel=8)
FINISH = front((134, 105), (132, 55), (150, 34), 190, heel=15)
SIDE_ADDRESS = behind((82, 108), (110, 66), (122, 114), 50, (121, 54))
SIDE_TOP = behind((82, 108), (108, 66), (84, 46), -20, (119, 54))
SIDE_DOWN = behind((82, 108), (108, 66), (112, 98), 200, (119, 54))
SIDE_BALL = 166.0


def ghost(pose: Pose) -> str:
    return figure(pose, ink=FAINT)


def chalk(x: float) -> str:
    return path(((x, GROUND - 7), (x, GROUND + 9)), ink=ACCENT, width=4)


def brush(start: float, end: float) -> str:
    return path(((start, GROUND + 4), (end, GROUND + 4)), ink=INK, width=5)


def turf_past_line() -> list[str]:
    return [ghost(TOP), figure(IMPACT), chalk(122), brush(128, 158), curve((84, 150), (112, 196), (166, 164))]


def two_dips() -> list[str]:
    return [
        ghost(TOP),
        figure(DOWN),
        curve((62, 52), (44, 84), (68, 104)),
        curve((56, 108), (30, 80), (50, 46)),
        ball(126),
    ]


def half_and_hold() -> list[str]:
    return [
        ghost(LEVEL),
        figure(replace(THROUGH, hands=(160, 104), club=38)),
        curve((76, 120), (118, 196), (176, 172)),
    ]


def towel_behind() -> list[str]:
    return [figure(ADDRESS), ball(128), box((70, GROUND - 9), 26, 9, fill="#dcefe6")]


def lead_hand_chip() -> list[str]:
    pose = replace(ADDRESS, trail_hand=(92, 96), hands=(130, 112), club=102)
    return [figure(pose), ball(124), curve((92, 160), (118, 196), (156, 168))]


def walk_after_it() -> list[str]:
    stepping = replace(
        FINISH, trail_foot=(176, GROUND), trail_heel_up=0, pelvis=(152, 106), neck=(152, 56), hands=(168, 38)
    )
    return [ghost(IMPACT), figure(stepping), curve((98, 168), (130, 140), (170, 168))]


def trail_toe_start() -> list[str]:
    pose = replace(ADDRESS, trail_foot=(84, GROUND), trail_heel_up=14, pelvis=(128, 107), neck=(122, 58))
    return [figure(pose), ball(128), path(((134, 118), (134, 166)), ink=ACCENT, width=3, tip=True)]


def push_target_side() -> list[str]:
    return [
        figure(TOP),
        path(((158, 136), (158, 174)), ink=ACCENT, width=5, tip=True),
        curve((106, 124), (118, 132), (134, 124)),
    ]


def feet_together_step() -> list[str]:
    together = replace(
        LEVEL,
        lead_foot=(108, GROUND),
        trail_foot=(94, GROUND),
        pelvis=(102, 106),
        neck=(102, 56),
        hands=(66, 76),
    )
    stepped = replace(TOP, lead_foot=(152, GROUND), pelvis=(116, 108))
    return [ghost(together), figure(stepped), curve((114, 172), (132, 148), (150, 168))]


def soft_block_outside() -> list[str]:
    return [
        figure(SIDE_DOWN),
        ball(SIDE_BALL),
        box((184, GROUND - 22), 24, 22, fill="#dcefe6"),
        curve((90, 128), (130, 176), (160, 176)),
    ]


def arms_before_back() -> list[str]:
    foot_back = replace(SIDE_TOP, trail_foot=(68, GROUND))
    return [
        ghost(foot_back),
        figure(replace(foot_back, hands=(104, 92), club=215)),
        curve((70, 46), (66, 76), (92, 92)),
        ball(SIDE_BALL),
    ]


def chest_high_rounds() -> list[str]:
    upright = behind((104, 104), (108, 54), (146, 74), -4, (110, 40))
    lower = replace(upright, hands=(140, 92), club=22)
    return [ghost(lower), figure(upright), curve((206, 60), (228, 104), (206, 150))]


def skim_a_disc() -> list[str]:
    pose = replace(DOWN, club=None, hands=(140, 96), trail_hand=(96, 126))
    return [
        figure(pose),
        disc((108, 136), 7, ink=ACCENT, fill="#dcefe6"),
        curve((120, 144), (170, 166), (222, 162)),
    ]


def finish_and_count() -> list[str]:
    seconds = [disc((196, 60 + 26 * n), 8, ink=ACCENT, fill="#dcefe6") for n in range(3)]
    return [figure(FINISH), *seconds]


def heel_peels_off() -> list[str]:
    return [figure(replace(IMPACT, trail_heel_up=16)), ball(130), curve((82, 178), (72, 160), (82, 142))]


def buckle_first() -> list[str]:
    bag = box((136, GROUND - 40), 34, 40, fill="#dcefe6", round_=8)
    return [bag, figure(replace(IMPACT, club=96)), curve((112, 122), (128, 136), (150, 118))]


def turn_beside_a_wall() -> list[str]:
    return [
        wall(74, hatch=-1),
        figure(replace(TOP, pelvis=(116, 108), neck=(108, 60), hands=(88, 70), club=None)),
        path(((122, 130), (104, 26)), ink=ACCENT, width=2, dash="3 6"),
    ]


def turn_inside_a_stick() -> list[str]:
    return [stick((80, 84), (80, GROUND)), figure(TOP), curve((130, 122), (116, 134), (98, 122))]


def knee_keeps_its_bend() -> list[str]:
    return [figure(TOP), disc((92, 142), 13, ink=ACCENT)]


def stop_at_chest_height() -> list[str]:
    return [
        ghost(TOP),
        figure(LEVEL),
        path(((30, 74), (214, 74)), ink=ACCENT, width=2, dash="3 6"),
        box((34, 84), 7, 22, fill=ACCENT),
        box((47, 84), 7, 22, fill=ACCENT),
    ]


def towel_across() -> list[str]:
    return [figure(replace(LEVEL, hands=(76, 84))), box((90, 70), 46, 10, fill="#dcefe6")]


def hinge_then_turn() -> list[str]:
    return [
        ghost(TOP),
        figure(replace(BACK_WAIST, hands=(90, 108), club=180)),
        curve((104, 172), (40, 170), (26, 118)),
        curve((22, 96), (24, 50), (66, 34)),
    ]


def ruler_under_strap() -> list[str]:
    return [figure(TOP), stick((70, 50), (108, 38)), disc((89, 44), 22, ink=ACCENT, width=2)]


def seat_against_wall() -> list[str]:
    return [
        wall(66, hatch=-1),
        figure(replace(SIDE_ADDRESS, pelvis=(74, 110), neck=(106, 70), head=(117, 58))),
        ball(SIDE_BALL),
    ]


def stick_outside_lead() -> list[str]:
    return [
        stick((162, 84), (162, GROUND)),
        figure(replace(IMPACT, pelvis=(124, 107))),
        curve((108, 122), (124, 138), (146, 122)),
        ball(128),
    ]


def ball_between_forearms() -> list[str]:
    return [ghost(BACK_WAIST), figure(THROUGH), disc((139, 84), 8, ink=ACCENT, fill="#dcefe6")]


def toe_up_both_sides() -> list[str]:
    return [
        ghost(BACK_WAIST),
        figure(THROUGH),
        path(((14, 98), (14, 76)), ink=ACCENT, width=3, tip=True),
        path(((226, 104), (226, 82)), ink=ACCENT, width=3, tip=True),
    ]


def grip_built_anew() -> list[str]:
    hands = replace(ADDRESS, hands=(132, 84), club=-50, club_length=60)
    knuckles = [disc((176, 108 + 14 * n), 5, ink=ACCENT, fill="#dcefe6") for n in range(2)]
    return [
        figure(hands),
        disc((132, 84), 16, ink=ACCENT, width=2),
        curve((150, 88), (164, 92), (170, 102)),
        *knuckles,
    ]


def rails() -> list[str]:
    return [
        stick((30, GROUND + 7), (214, GROUND + 7)),
        stick((30, GROUND - 1), (214, GROUND - 1)),
        figure(ADDRESS),
        ball(128, GROUND + 2),
    ]


def three_back_one_down() -> list[str]:
    beats = [disc(at, 6, ink=ACCENT, fill="#dcefe6") for at in ((44, 150), (34, 116), (44, 82))]
    return [ghost(TOP), figure(ADDRESS), *beats, curve((58, 60), (74, 90), (100, 166))]


def turf_beyond_two_lines() -> list[str]:
    return [figure(IMPACT), chalk(122), chalk(140), brush(146, 172), curve((88, 150), (120, 200), (180, 164))]


def start_gate() -> list[str]:
    player = replace(
        IMPACT,
        pelvis=(66, 107),
        neck=(56, 59),
        hands=(71, 111),
        trail_foot=(36, GROUND),
        lead_foot=(82, GROUND),
    )
    return [
        figure(player),
        ball(72),
        stick((176, 132), (176, GROUND)),
        stick((204, 122), (204, GROUND - 12)),
        path(((88, 174), (222, 150)), ink=ACCENT, width=3, dash="3 6", tip=True),
    ]


def drawn_shots() -> list[str]:
    cards = [box((164 + 14 * n, 40 + 12 * n), 34, 46, fill="#ffffff") for n in range(3)]
    player = Pose((88, 108), (86, 58), (90, 112), lead_foot=(112, GROUND), trail_foot=(66, GROUND), club=88)
    return [figure(player), ball(98), *cards, disc((209, 87), 7, ink=ACCENT, fill="#dcefe6")]


def warm_up() -> list[str]:
    stride = Pose(
        (112, 106),
        (116, 56),
        (146, 74),
        lead_foot=(150, GROUND),
        trail_foot=(82, GROUND),
        club=None,
        trail_hand=(82, 78),
        trail_heel_up=12,
    )
    return [
        figure(stride),
        curve((160, 56), (186, 74), (168, 98)),
        curve((70, 60), (44, 78), (62, 102)),
        path(((100, 194), (166, 194)), ink=ACCENT, width=3, tip=True),
    ]


FIGURES: dict[str, Callable[[], list[str]]] = {
    "turf-past-line": turf_past_line,
    "two-dips-then-through": two_dips,
    "half-and-hold": half_and_hold,
    "towel-one-grip-behind": towel_behind,
    "lead-hand-chip": lead_hand_chip,
    "walk-after-it": walk_after_it,
    "trail-toe-start": trail_toe_start,
    "push-target-side": push_target_side,
    "feet-together-step": feet_together_step,
    "soft-block-outside": soft_block_outside,
    "arms-before-back": arms_before_back,
    "chest-high-rounds": chest_high_rounds,
    "skim-a-disc": skim_a_disc,
    "finish-and-count": finish_and_count,
    "heel-peels-off": heel_peels_off,
    "buckle-first": buckle_first,
    "turn-beside-a-wall": turn_beside_a_wall,
    "turn-inside-a-stick": turn_inside_a_stick,
    "knee-keeps-its-bend": knee_keeps_its_bend,
    "stop-at-chest-height": stop_at_chest_height,
    "towel-across-the-chest": towel_across,
    "hinge-then-turn": hinge_then_turn,
    "ruler-under-the-strap": ruler_under_strap,
    "seat-against-the-wall": seat_against_wall,
    "stick-outside-lead-hip": stick_outside_lead,
    "ball-between-forearms": ball_between_forearms,
    "toe-up-both-sides": toe_up_both_sides,
    "grip-built-anew": grip_built_anew,
    "rails": rails,
    "three-back-one-down": three_back_one_down,
    "turf-beyond-two-lines": turf_beyond_two_lines,
    "start-gate": start_gate,
    "drawn-shots": drawn_shots,
    "warm-up": warm_up,
}


def drawing(key: str) -> str:
    """The file's text of one of our drawings."""
    return picture(FIGURES[key](), key.replace("-", " ").capitalize())


def write_all(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for key in FIGURES:
        (folder / f"{key}.svg").write_text(drawing(key), encoding="utf-8")


if __name__ == "__main__":
    write_all(Path(sys.argv[1]))
