"""Accessibility rules, checked in the page by axe-core (MPL-2.0), installed by the lock file of the checks."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page

from coachhub.bootstrap import scripts

# WCAG 2.2 A and AA, and the rules of thumb beside them.
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SERIOUS = {"serious", "critical"}


def serious_findings(page: Page) -> list[str]:
    """Each serious or critical finding as "rule: what, at which element"."""
    source = (scripts.modules() / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    # Evaluated by the driver, outside the page's content security policy.
    page.evaluate(source + "; null")
    answer: dict[str, Any] = page.evaluate(
        "tags => axe.run(document, {runOnly: {type: 'tag', values: tags}, resultTypes: ['violations']})", TAGS
    )
    return [
        f"{found['id']}: {found['help']}, at {node['target']}"
        for found in answer["violations"]
        if found["impact"] in SERIOUS
        for node in found["nodes"]
    ]
