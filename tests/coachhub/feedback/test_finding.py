from __future__ import annotations

import pytest

from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.causes import mechanism_nodes, root_nodes
from coachhub.feedback.domain.finding import chain, miss_sentence, save_finding
from coachhub.feedback.enums import RootKind
from coachhub.feedback.models import Finding, Review
from tests import factories
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def review() -> Review:
    cast: Cast = make_cast()
    return factories.make_review(factories.make_submission(cast.student, cast.cohort))


def test_nodes_bring_their_words_and_own_words_win(review: Review) -> None:
    save_finding(
        review, {"miss": "starts left", "mechanism_node": "ds_early_release", "root_node": "bel_lift"}
    )
    by_node = [step.text for step in chain(review.finding)]
    assert by_node[0] == "starts left"
    assert all(by_node[1:])
    save_finding(review, {"root": "You want to help the ball up."})
    review.finding.refresh_from_db()
    assert [step.text for step in chain(review.finding)] == [*by_node[:2], "You want to help the ball up."]
    assert Finding.objects.count() == 1


def test_an_empty_chain_says_nothing(review: Review) -> None:
    assert chain(None) == []
    assert chain(save_finding(review, {})) == []


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"root_node": "no_such"}, "cause map"),
        ({"root_kind": "luck"}, "offered answers"),
        ({"confidence": "certainly"}, "offered answers"),
        ({"miss": "x" * 201}, "200 characters"),
    ],
)
def test_what_does_not_fit_is_refused_in_words(review: Review, fields: dict[str, str], words: str) -> None:
    with pytest.raises(RuleBroken, match=words):
        save_finding(review, fields)


def test_the_reported_miss_becomes_a_sentence() -> None:
    cast = make_cast()
    told = factories.make_submission(
        cast.student,
        cast.cohort,
        miss_start="left",
        miss_curve="none",
        miss_strike="fat",
        miss_height="normal",
    )
    assert miss_sentence(told) == "starts left, flies straight; fat: ground before ball"
    silent = factories.make_submission(cast.student, cast.cohort, miss_start="", miss_curve="")
    assert miss_sentence(silent) == ""


def test_every_root_kind_has_nodes_and_mechanisms_are_no_roots() -> None:
    roots = {kind: {node.key for node in root_nodes(kind)} for kind in RootKind.values}
    assert all(roots.values())
    mechanisms = {node.key for node in mechanism_nodes()}
    assert mechanisms.isdisjoint(set().union(*roots.values()))
    assert {"ds_early_release", "im_scoop", "fin_stalled"} <= mechanisms
    assert root_nodes("nothing") == []
