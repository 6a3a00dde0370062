"""Worked cases and invented ones."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st

from analysis.causes import Case, Miss, SeenSign, cause_map
from analysis.causes.case import CURVES, HEIGHTS, STARTS, STRIKES
from analysis.signs.rules import KEYS
from analysis.types import CLUB_CLASSES, HANDS, VIEWS

_NODES = cause_map().nodes
BELIEFS = tuple(key for key, node in _NODES.items() if node.kind == "belief")
SEEABLE = tuple(key for key, node in _NODES.items() if node.kind not in {"belief", "health", "ball flight"})
_SIDE = {"left": "right", "right": "left"}


def pull_with_a_lift_idea(club_class: str) -> Case:
    """A right-hander's pull, the club thrown early, the trail foot flat, and the answer "help it up"."""
    return Case(
        club_class,
        signs=(SeenSign("early_release", "confirmed"),),
        observations=("ds_flat_feet",),
        miss=Miss(start="left", curve="none"),
        beliefs=("bel_lift",),
        views=("face_on",),
        pain=False,
    )


def slice_with_an_open_face() -> Case:
    """A right-hander's slice, the face open at the top by the coach's eye, aimed away from the miss."""
    return Case(
        "iron",
        observations=("bs_cupped_top",),
        miss=Miss(start="straight", curve="right"),
        beliefs=("bel_steerleft",),
        views=("dtl",),
        pain=False,
    )


def thin_with_hanging_back() -> Case:
    """Thin strikes, the weight back at impact, nothing asked yet."""
    return Case(
        "iron",
        signs=(
            SeenSign("hanging_back", "likely", 0.9),
            SeenSign("reverse_spine_tilt", "not_seen"),
            SeenSign("sway", "not_seen"),
        ),
        miss=Miss(strike="thin"),
        views=("face_on",),
        pain=False,
    )


def mirrored(case: Case) -> Case:
    """The same case played with the other hand."""
    miss = case.miss
    turned = replace(
        miss,
        start=_SIDE.get(miss.start or "", miss.start),
        curve=_SIDE.get(miss.curve or "", miss.curve),
    )
    return replace(case, miss=turned, handedness=_SIDE[case.handedness])


def _maybe(words: tuple[str, ...]) -> st.SearchStrategy[str | None]:
    return st.none() | st.sampled_from(words)


misses = st.builds(
    Miss, start=_maybe(STARTS), curve=_maybe(CURVES), strike=_maybe(STRIKES), height=_maybe(HEIGHTS)
)
signs = st.builds(
    SeenSign,
    key=st.sampled_from(KEYS),
    state=st.sampled_from(("confirmed", "dismissed", "likely", "possible", "not_seen", "cant_tell")),
    p=st.floats(0.3, 1.0).map(lambda p: round(p, 3)),
)


def cases(club_classes: tuple[str, ...] = CLUB_CLASSES) -> st.SearchStrategy[Case]:
    """Any case that makes sense."""
    return st.builds(
        Case,
        club_class=st.sampled_from(club_classes),
        handedness=st.sampled_from(HANDS),
        signs=st.lists(signs, max_size=4, unique_by=lambda sign: sign.key).map(tuple),
        observations=st.lists(st.sampled_from(SEEABLE), max_size=3, unique=True).map(tuple),
        miss=misses,
        beliefs=st.lists(st.sampled_from(BELIEFS), max_size=2, unique=True).map(tuple),
        views=st.lists(st.sampled_from(VIEWS), max_size=2, unique=True).map(tuple),
        pain=st.none() | st.booleans(),
    )
