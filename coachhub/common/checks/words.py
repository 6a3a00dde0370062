"""Nothing about one person's machine, and no secret, gets into the repository."""

from __future__ import annotations

import re
from pathlib import Path

from coachhub.common.checks.findings import Finding, files

ENDINGS = (
    ".py",
    ".md",
    ".html",
    ".css",
    ".js",
    ".mjs",
    ".json",
    ".toml",
    ".txt",
    ".yml",
    ".yaml",
    ".csv",
    ".conf",
)
RULES = (
    (re.compile(r"(?<![\w./}])/(?:work|home|Users|root|mnt)/\w"), "a path of one machine"),
    (
        re.compile(r"\b(?:files\.)?python" + r"hosted\.org\b|\bpypi\.(?:org|python)"),
        "the address of a package index",
    ),
    (re.compile(r"\bregistry\.(?:npm" + r"js|yarnpkg)\."), "the address of a package index"),
    (re.compile(r"-----BEGIN [A-Z ]*PRIVATE KEY-----"), "a private key"),
    (re.compile(r"\bAKIA[0-9A-Z]{16}\b"), "an access key"),
)
LARGEST_BYTES = 2_000_000


def check(root: Path) -> list[Finding]:
    found = []
    for path in files(root, *ENDINGS, "run"):
        if path.stat().st_size <= LARGEST_BYTES:
            found += check_text(path.read_text("utf-8", "replace"), str(path.relative_to(root)))
    return found


def check_text(text: str, name: str) -> list[Finding]:
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        found += [
            Finding(name, number, f"{what}: {line.strip()[:80]}") for rule, what in RULES if rule.search(line)
        ]
    return found
