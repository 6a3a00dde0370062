from __future__ import annotations

import re

import pytest

from coachhub.bootstrap import layout, pins

LISTS = (pins.INSTALLER, pins.RUN, pins.TEST)
pytestmark = pytest.mark.unit


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.name)
def test_every_pin_has_a_hash_and_no_address(path):
    text = path.read_text()
    blocks = re.split(r"\n(?=[a-z0-9])", re.sub(r"^#.*\n", "", text, flags=re.MULTILINE).strip())
    assert len(blocks) == len(pins.pins(path))
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}", block) for block in blocks)
    assert "://" not in text and "--index" not in text


def test_test_list_holds_the_run_list():
    run, test = pins.pins(pins.RUN), pins.pins(pins.TEST)
    assert {name: test.get(name) for name in run} == run


@pytest.mark.parametrize("path", (pins.RUN, pins.TEST), ids=lambda path: path.name)
def test_windowed_image_library_is_left_out(path):
    assert not {"opencv-contrib-python", "opencv-python", "sounddevice"} & set(pins.pins(path))


def test_script_lock_has_hashes_and_no_addresses():
    text = (layout.SCRIPT_TOOLS_LIST / "package-lock.json").read_text()
    assert "resolved" not in text and "://" not in text
    assert text.count('"integrity": "sha512-') >= 3


def test_lacking_names_what_is_absent_or_differs(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("pytest==0.0.1 \\\n    --hash=sha256:00\nno-such-library==1.2\n")
    assert pins.lacking(path) == ["pytest==0.0.1", "no-such-library==1.2"]
    assert pins.lacking(pins.TEST) == []
