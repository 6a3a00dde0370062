"""Each way of setting up that can fail ends in one sentence that names it and says what to do."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from coachhub.bootstrap import failures

pytestmark = pytest.mark.unit
NOWHERE = "http://127.0.0.1:9"  # the discard port (RFC 863): nothing listens there

SAMPLES = {
    "disk": ("OSError: [Errno 28] No space left on device: '.venv/lib'", "the disk is full"),
    "disk in the quick installer": (
        "failed to write: No space left on device (os error 28)",
        "the disk is full",
    ),
    "name": ("NewConnectionError: [Errno -3] Temporary failure in name resolution", "can't be reached"),
    "hash": ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "its hash differs"),
    "platform": ("ERROR: No matching distribution found for mediapipe==1.2.3", "no ready-made build"),
    "rights": ("error: could not create '.venv': Permission denied", "can't be written to"),
    "unknown": ("something odd\nlast line", "Its last words: last line"),
    "silent": ("", "(it printed nothing)"),
}


@pytest.mark.parametrize("name", SAMPLES)
def test_output_becomes_a_sentence_with_a_next_step(name):
    output, expected = SAMPLES[name]
    text = str(failures.explain(output, "Installing", "var/log/setup.log"))
    assert expected in text
    assert "\nWhat to do: " in text


def test_network_is_named_before_the_missing_distribution_it_causes():
    output = "Retrying ... Connection refused\nERROR: No matching distribution found for uv==1"
    assert "can't be reached" in str(failures.explain(output, "Installing", "log"))


def test_what_pip_really_prints_without_network_is_understood():
    command = [sys.executable, "-m", "pip", "download", "--no-deps", "--index-url", NOWHERE, "--retries", "1"]
    env = {name: value for name, value in os.environ.items() if not name.startswith("PIP_")}
    env["PIP_CONFIG_FILE"] = os.devnull
    done = subprocess.run([*command, "uv==99.0"], capture_output=True, text=True, env=env, timeout=60)
    assert done.returncode != 0
    assert "can't be reached" in str(failures.explain(done.stdout + done.stderr, "Fetching", "log"))


def test_what_the_system_says_about_a_full_disk_is_understood():
    with pytest.raises(OSError) as caught, open("/dev/full", "w") as full:
        full.write("x" * 100_000)
    assert "the disk is full" in str(failures.explain(str(caught.value), "Installing", "log"))
