"""One key means one thing while the picture has the focus."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from coachhub.feedback.domain.eye import LOOKS

JS = Path(__file__).resolve().parents[4] / "coachhub/web/static/js"


@pytest.mark.unit
def test_no_look_takes_a_key_of_the_signs() -> None:
    signs = (JS / "behaviours/sign_keys.js").read_text(encoding="utf-8")
    verdicts = (JS / "core/signsteps.js").read_text(encoding="utf-8").partition("VERDICT_KEYS = {")[2]
    taken = re.findall(r'key === "(\w)"', signs) + re.findall(r"(\w): \"", verdicts.partition("}")[0])
    assert len(set(taken)) == len(taken) == 5
    assert not {look.letter for look in LOOKS} & set(taken)
