"""What the documents promise is there: commands, variables, files."""

from __future__ import annotations

import re
import subprocess

import pytest
from django.core.management import get_commands

from coachhub.bootstrap import layout

pytestmark = pytest.mark.unit
README = (layout.ROOT / "README.md").read_text()
DEVELOPERS = (layout.ROOT / "DEVELOPERS.md").read_text()
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", "manage.py", "docker-compose.yml",
    "coachhub", "analysis", "templates", "tests", "fixtures",
}  # fmt: skip
VARIABLE = re.compile(
    r"\b(?:COACHHUB|S3|EMAIL|MEDIA|UPLOAD|JOB|ANALYSIS)_[A-Z_]+[A-Z]\b|\b(?:DATABASE|BROKER)_URL\b"
)


def sources() -> str:
    folders = [
        layout.ROOT / "coachhub" / "settings.py",
        *(layout.ROOT / "coachhub" / "bootstrap").glob("*.py"),
    ]
    return "\n".join(path.read_text() for path in folders)


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_command_that_is_named_exists(text):
    named = set(re.findall(r"manage\.py ([a-z_]+)", text))
    assert named
    assert named <= set(get_commands())


def test_setting_up_takes_exactly_two_commands():
    start = README.split("\n## ")[1]
    assert start.startswith("Start\n")
    assert re.findall(r"```\n(.*?)\n```", start, re.DOTALL) == [
        "python3 manage.py demo",
        "python3 manage.py test",
    ]


def test_ci_runs_the_readmes_test_command():
    lines = (layout.ROOT / ".ci" / "run").read_text().splitlines()
    assert "python3 manage.py test" in lines
    assert "set -euo pipefail" in lines


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_variable_that_is_named_is_read(text):
    compose = (layout.ROOT / "docker-compose.yml").read_text()
    read = sources() + compose
    assert [name for name in set(VARIABLE.findall(text)) if name not in read] == []


def test_files_that_are_named_exist():
    named = re.findall(r"`((?:[\w.-]+/)+[\w.-]+\.\w+)`", README + DEVELOPERS)
    assert [name for name in named if "*" not in name and not (layout.ROOT / name).exists()] == []


@pytest.mark.skipif(not (layout.ROOT / ".git").exists(), reason="not a checkout")
def test_the_top_level_stays_as_it_is():
    listed = subprocess.run(["git", "ls-files"], cwd=layout.ROOT, capture_output=True, text=True, check=True)
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL
