"""Practice swings on the site: said, and never the first that is shown."""

from __future__ import annotations

import pytest

from coachhub.swings.domain.kinds import is_practice
from coachhub.swings.models import Readout
from coachhub.web.coach.desk.readouts import cards_of
from coachhub.web.player import player_of
from tests import factories
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.integration, pytest.mark.django_db]

PRACTICE = {"strike": {"kind": "practice", "why": "no ball left and no strike was heard"}}
STRIKE = {"strike": {"kind": "strike", "why": "the ball left its place at impact"}}


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def test_the_strike_comes_first_and_the_practice_swing_is_named(cast: Cast) -> None:
    clip = factories.make_clip(factories.make_submission(cast.student, cast.cohort))
    for more in (PRACTICE, STRIKE):
        factories.make_swing(clip, data=factories.readout_data({}) | more)
    shown = player_of([clip], cast.coach, hand="right")["swings"]
    assert [swing["label"] for swing in shown] == [
        "Clip 1, face-on, swing 2",
        "Clip 1, face-on, swing 1 (practice swing)",
    ]
    cards = cards_of([clip], cast.coach.pk)
    assert [card.id for card in cards] == [swing["id"] for swing in shown]
    assert "Taken for a practice swing: no ball left and no strike was heard." in cards[1].problems
    assert not any("practice" in sentence for sentence in cards[0].problems)


def test_means_are_made_of_strikes_and_of_what_was_never_told_apart(cast: Cast) -> None:
    clip = factories.make_clip(factories.make_submission(cast.student, cast.cohort))
    kept = [factories.make_swing(clip, data=factories.readout_data({}) | more) for more in (STRIKE, {})]
    factories.make_swing(clip, data=factories.readout_data({}) | PRACTICE)
    found = Readout.objects.of_strikes().order_by("pk")
    assert [readout.swing_id for readout in found] == [swing.pk for swing in kept]


def test_older_readouts_are_taken_as_they_come(cast: Cast) -> None:
    clip = factories.make_clip(factories.make_submission(cast.student, cast.cohort))
    for _ in range(2):
        factories.make_swing(clip)
    shown = player_of([clip], cast.coach, hand="right")["swings"]
    assert [swing["label"] for swing in shown] == ["Clip 1, face-on, swing 1", "Clip 1, face-on, swing 2"]
    assert not is_practice(None)
