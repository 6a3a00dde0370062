"""The project's own rules find what they are for, on small trees made for it."""

from __future__ import annotations

from pathlib import Path

import pytest

from coachhub.common.checks import browser, imports, sizes, words

pytestmark = pytest.mark.unit


def tree(root: Path, **files: str) -> Path:
    for name, text in files.items():
        path = root / name.replace("__", "/")
        path = path.with_name(path.name + ".py")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return root


def complaints(root: Path) -> list[str]:
    return [str(finding) for finding in imports.check(root)]


@pytest.mark.parametrize(
    "place, text",
    [
        ("analysis__events", "import django"),
        ("analysis__events", "from coachhub.swings import models"),
        ("analysis__adapters__pose", "from celery import Celery"),
        ("analysis__signal__filters", "from scipy import signal"),
        ("analysis__view", "import cv2"),
        ("analysis__view", "def f():\n    import mediapipe"),
        ("analysis__pipeline", "def f():\n    from analysis.training import clips"),
        ("analysis__adapters__club_net", "import torch"),
        ("coachhub__progress__demo__filling", "from analysis.training.clips import render_clip"),
        ("coachhub__bootstrap__pins", "import requests"),
        ("coachhub__bootstrap__pins", "from django.conf import settings"),
        ("coachhub__swings__domain__runs", "import cv2"),
        ("coachhub__camps__models", "from coachhub.videos.models import Clip"),
        ("coachhub__videos__domain__clips", "from coachhub.web.media import links"),
        ("coachhub__swings__models", "from coachhub.swings.domain import runs"),
        ("coachhub__swings__domain__runs", "from coachhub.swings.forms import RunForm"),
        ("coachhub__swings__enums", "from coachhub.swings.models import Swing"),
        ("coachhub__videos__domain__clips", "def f():\n    from coachhub.swings.domain import runs"),
    ],
)
def test_an_import_in_the_wrong_direction_is_found(tmp_path, place, text):
    assert len(complaints(tree(tmp_path, **{place: text}))) == 1


@pytest.mark.parametrize(
    "place, text",
    [
        ("analysis__adapters__pose", "import mediapipe"),
        ("analysis__events", "import numpy as np\nfrom analysis.types import Events"),
        ("analysis__training__net", "import torch\nimport cv2\nfrom analysis.training import labels"),
        ("coachhub__bootstrap__pins", "import hashlib\nfrom coachhub.bootstrap import layout"),
        (
            "coachhub__swings__domain__runs",
            "from analysis import version\nfrom coachhub.videos.models import Clip",
        ),
        ("coachhub__swings__domain__runs", "from coachhub.swings import tasks"),
        ("coachhub__swings__tasks", "def f():\n    from coachhub.swings.domain import runs"),
        (
            "coachhub__videos__domain__clips",
            "def f():\n    # upward: next stage\n    from coachhub.swings.domain import x",
        ),
        ("coachhub__camps__models", "if TYPE_CHECKING:\n    from coachhub.videos.models import Clip"),
        ("coachhub__web__coach__queue", "from coachhub.feedback.domain import reviews"),
        ("coachhub__progress__demo__empty_range", "import av"),
        ("coachhub__common__management__commands__demo", "from coachhub.progress import demo"),
    ],
)
def test_an_import_in_the_right_direction_passes(tmp_path, place, text):
    assert complaints(tree(tmp_path, **{place: text})) == []


@pytest.mark.parametrize(
    "line, what",
    [
        ("see " + "/home/" + "ada/clips/a.mp4", "a path of one machine"),
        ("cd " + "/Users/" + "ada", "a path of one machine"),
        ("index = https://" + "pypi" + ".org/simple", "the address of a package index"),
        ("-----BEGIN RSA " + "PRIVATE KEY-----", "a private key"),
    ],
)
def test_machine_paths_and_secrets_are_found(line, what):
    assert [finding.text.partition(":")[0] for finding in words.check_text(line, "x.md")] == [what]


@pytest.mark.parametrize(
    "line", ["url('/my/home/')", "reverse: /coach/work/3", "{{ base }}/home/now", "the homework"]
)
def test_ordinary_lines_pass(line):
    assert words.check_text(line, "x.html") == []


def test_long_functions_are_named_without_their_docstring():
    body = "\n".join("    x = 1" for _ in range(sizes.LONG_FUNCTION))
    assert sizes.check_source(f'def f():\n    """One.\n\n    Two.\n    """\n{body}\n', "a.py") == []
    assert len(sizes.check_source(f"def f():\n{body}\n    y = 2\n", "a.py")) == 1


@pytest.fixture
def scripts_of(tmp_path):
    def make(**modules: str) -> Path:
        folder = tmp_path / browser.SOURCE
        folder.mkdir(parents=True)
        for name, text in modules.items():
            (folder / f"{name}.js").write_text(text)
        return tmp_path

    return make


def test_a_syntax_error_in_a_module_is_found(scripts_of):
    status, text = browser.syntax(scripts_of(good="export const a = 1;\n", bad="export const = 2;\n"))
    assert status == 1
    assert "bad.js" in text


def test_a_loading_import_inside_code_is_found(scripts_of):
    text = '/** @type {import("./a.js").A} */\nconst late = () => import("./b.js");\n'
    status, said = browser.syntax(scripts_of(a=text))
    assert status == 1
    assert "a.js:2" in said


def test_a_wrong_type_in_a_comment_is_found(scripts_of):
    text = '/** @param {number} a */\nexport function twice(a) { return a * 2; }\ntwice("three");\n'
    status, said = browser.types(scripts_of(twice=text))
    assert status != 0
    assert "not assignable to parameter of type 'number'" in said


def test_a_right_type_passes(scripts_of):
    text = "/** @param {number} a */\nexport function twice(a) { return a * 2; }\ntwice(3);\n"
    assert browser.types(scripts_of(twice=text))[0] == 0


def test_a_failing_browser_test_fails(tmp_path):
    folder = tmp_path / "tests" / "js"
    folder.mkdir(parents=True)
    passing = (
        "import test from 'node:test';\nimport a from 'node:assert';\ntest('one', () => a.equal(1, 1));\n"
    )
    (folder / "one.test.js").write_text(passing)
    assert browser.unit_tests(tmp_path)[0] == 0
    (folder / "two.test.js").write_text(passing.replace("equal(1, 1)", "equal(1, 2)"))
    assert browser.unit_tests(tmp_path)[0] != 0
