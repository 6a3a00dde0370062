"""The cause map is sound, graded, and says what ball-flight physics says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.causes import CauseMap, Edge, cause_map, check, in_causal_order
from analysis.causes.graph import CIRCULAR, GRADES

pytestmark = pytest.mark.unit


def test_the_map_is_whole() -> None:
    found = cause_map()
    assert (len(found.nodes), len(found.edges), len(found.ideas)) == (78, 153, 8)
    ends = {end for edge in found.edges for end in (edge.cause, edge.effect)}
    assert ends == set(found.nodes)


def test_every_edge_says_how_and_how_well_it_is_known() -> None:
    for edge in cause_map().edges:
        assert edge.grade in GRADES, edge
        assert edge.how, edge
        assert edge.support, edge
        assert (edge.grade == "C") == (edge.support == "common practice, no study"), edge


def test_causes_come_before_their_effects_in_the_order() -> None:
    edges = cause_map().edges
    place = {key: number for number, key in enumerate(in_causal_order(edges))}
    assert all(place[e.cause] < place[e.effect] for e in edges if e.relation not in CIRCULAR)


def test_a_circle_is_refused() -> None:
    found = cause_map()
    back = Edge("bf_thin", "bel_lift", "causes", "low balls teach lifting", "C", "common practice, no study")
    with pytest.raises(ValueError, match="circle"):
        check(replace(found, edges=(*found.edges, back)))


@pytest.mark.parametrize(
    ("edge", "words"),
    [
        (Edge("bel_lift", "nowhere", "causes", "x", "C", "x"), "nowhere"),
        (Edge("bel_lift", "bf_thin", "causes", "x", "A", "x"), "grade"),
        (Edge("bel_lift", "bf_thin", "proves", "x", "C", "x"), "relation"),
    ],
)
def test_an_unsound_edge_is_refused_by_name(edge: Edge, words: str) -> None:
    found = cause_map()
    with pytest.raises(ValueError, match=words):
        check(CauseMap(found.nodes, (*found.edges, edge), found.ideas))


def test_an_unknown_node_is_refused() -> None:
    with pytest.raises(ValueError, match="'bf_banana'"):
        cause_map().causes_of("bf_banana")


def test_every_belief_has_its_question_and_a_better_idea() -> None:
    found = cause_map()
    beliefs = {key for key, node in found.nodes.items() if node.kind == "belief"}
    assert set(found.ideas) == beliefs
    assert all(idea.ask.endswith("?") and idea.better_idea for idea in found.ideas.values())


def test_every_cause_reaches_a_ball_flight_a_finish_or_a_risk() -> None:
    """A node that explains nothing has no place on a map from miss to root."""
    found = cause_map()
    reaches = {key for key, node in found.nodes.items() if node.kind in {"ball flight", "finish", "health"}}
    for key in reversed(in_causal_order(found.edges)):
        if any(edge.effect in reaches for edge in found.effects_of(key)):
            reaches.add(key)
    assert set(found.nodes) - reaches == set()


@pytest.mark.parametrize(
    ("flight", "cause"),
    [
        # Ball-flight laws for a centred strike: the start follows mostly the face (Wood, Henrikson and
        # Broadie 2018), the curve follows the face against the path (D-plane, Jorgensen 1994).
        ("bf_slice", "im_face_open"),
        ("bf_hook", "im_face_closed"),
        ("bf_push", "im_face_open_target"),
        ("bf_pull", "im_face_closed_target"),
        ("bf_pull_slice", "im_path_left"),
    ],
)
def test_flight_follows_face_and_path(flight: str, cause: str) -> None:
    edges = {edge.cause: edge for edge in cause_map().causes_of(flight)}
    assert edges[cause].grade == "S"
