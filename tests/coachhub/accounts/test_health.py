"""Which ticked pain alert leads to which advice. General medical consensus, from memory (grade M): loss of bladder
or bowel control beside back pain, and chest pain or breathlessness, are emergencies; the others need a clinician."""

from __future__ import annotations

import pytest

from coachhub.accounts.domain.health import advice_for
from coachhub.accounts.enums import RedFlag

pytestmark = pytest.mark.unit


@pytest.mark.parametrize("flag", list(RedFlag))
def test_every_pain_alert_says_see_a_clinician(flag: RedFlag) -> None:
    advice = advice_for([flag])
    assert advice is not None
    assert advice.urgent is (flag in {RedFlag.BLADDER, RedFlag.CHEST})
    words = " ".join(advice.sentences)
    assert ("emergency number" in words) is advice.urgent
    assert "clinician" in words or "doctor" in words
    assert advice.ticked == (str(flag.label),)


def test_the_urgent_one_decides() -> None:
    advice = advice_for(["night", "chest"])
    assert advice is not None
    assert advice.urgent
    assert len(advice.ticked) == 2


def test_nothing_ticked_no_advice() -> None:
    assert advice_for([]) is None
