"""When to stop a drill stands beside it as whole sentences, however its author ended the rule."""

from __future__ import annotations

import pytest
from django.template.loader import render_to_string
from django.utils.html import strip_tags

ALWAYS = "Warm up first. This is no medical advice."


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("stop at any pain", f"Stop if it hurts. Stop at any pain. {ALWAYS}"),
        ("Stop at any pain.", f"Stop if it hurts. Stop at any pain. {ALWAYS}"),
        ("", f"Stop if it hurts. {ALWAYS}"),
    ],
    ids=["no full stop", "a full stop", "no rule"],
)
def test_the_rule_is_a_sentence_of_its_own(rule: str, said: str) -> None:
    page = render_to_string("shared/stop_rule.html", {"drill": {"stop_rule": rule}})
    assert strip_tags(page).strip() == said
