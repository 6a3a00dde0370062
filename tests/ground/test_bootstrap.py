"""The way from any interpreter into one with the libraries, tried on copies of the project."""

from __future__ import annotations

import ast
import os
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from coachhub.bootstrap import debian, entry, environment, layout, pins
from coachhub.bootstrap.failures import SetupError

pytestmark = pytest.mark.unit
BARE_PYTHON = sys._base_executable
NOWHERE = "http://127.0.0.1:9"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The door and the bootstrap alone, as in a fresh checkout."""
    shutil.copy(layout.ROOT / "manage.py", tmp_path)
    (tmp_path / "coachhub").mkdir()
    for name in ("__init__.py", "env.py"):
        shutil.copy(layout.ROOT / "coachhub" / name, tmp_path / "coachhub")
    shutil.copytree(layout.ROOT / "coachhub" / "bootstrap", tmp_path / "coachhub" / "bootstrap")
    return tmp_path


def start(
    copy: Path, *words: str, python: str = BARE_PYTHON, **extra: str
) -> subprocess.CompletedProcess[str]:
    env = {
        name: value for name, value in os.environ.items() if not name.startswith(("PIP_", "UV_", "COACHHUB_"))
    }
    env |= {"COACHHUB_SYSTEM_PACKAGES": "off", "PIP_CONFIG_FILE": os.devnull, **extra}
    command = [python, "manage.py", *words]
    return subprocess.run(command, cwd=copy, env=env, capture_output=True, text=True, timeout=120)


def test_without_network_it_stops_with_a_sentence(copy):
    done = start(
        copy, "demo", PIP_INDEX_URL=NOWHERE, UV_DEFAULT_INDEX=NOWHERE, UV_HTTP_RETRIES="0", UV_OFFLINE="0"
    )
    assert done.returncode == 1
    assert "can't be reached from this machine" in done.stderr
    assert "What to do: check the network" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (copy / ".venv" / "coachhub-stamp.json").exists()


def test_long_parts_show_a_line(copy):
    done = start(copy, "demo", PIP_INDEX_URL=NOWHERE)
    assert "Making an environment for Python" in done.stderr
    assert "done (" in done.stderr
    assert "Fetching the installer ... failed (" in done.stderr


def test_without_the_venv_module_it_names_the_package(copy, tmp_path):
    hidden = tmp_path / "hidden"
    hidden.mkdir()
    (hidden / "ensurepip.py").write_text("raise ImportError('not here')")
    done = start(copy, "demo", PYTHONPATH=str(hidden))
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    assert done.returncode == 1
    assert "no venv module" in done.stderr
    assert f"apt-get install python{version}-venv" in done.stderr


def test_an_old_python_is_told_so(copy):
    code = "import sys; sys.version_info = (3, 9, 2, 'final', 0); exec(open('manage.py').read())"
    done = subprocess.run([sys.executable, "-c", code], cwd=copy, capture_output=True, text=True)
    assert done.returncode == 1
    assert done.stderr.startswith("Python 3.11 or newer is needed; this is 3.9.")


def test_the_door_can_be_read_by_an_old_python():
    ast.parse((layout.ROOT / "manage.py").read_text(), feature_version=(3, 7))


def test_doctor_on_a_bare_machine_installs_nothing(copy):
    done = start(copy, "doctor")
    assert done.returncode == 1
    assert "python3 manage.py demo installs them" in done.stderr
    assert not (copy / ".venv").exists()


def test_it_steps_aside_where_the_libraries_are_already_there(copy):
    done = start(copy, "version", python=sys.executable)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == pins.pins(pins.RUN)["django"]
    assert not (copy / ".venv").exists()


def test_the_switch_keeps_it_out(copy):
    done = start(copy, "version", COACHHUB_BOOTSTRAP="off")
    assert "No module named 'django'" in done.stderr
    assert not (copy / ".venv").exists()


def test_a_full_disk_is_told_before_anything_starts(monkeypatch, tmp_path):
    usage = shutil.disk_usage(tmp_path)._replace(free=10_000_000)
    monkeypatch.setattr(layout, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage)
    with pytest.raises(SetupError, match="the disk is full"):
        environment._check_room()


def test_a_stamp_counts_only_for_the_list_it_was_made_from(monkeypatch, tmp_path):
    wanted = tmp_path / "requirements.txt"
    wanted.write_text("one==1\n")
    monkeypatch.setattr(layout, "VENV", tmp_path / ".venv")
    environment.interpreter().parent.mkdir(parents=True)
    environment.interpreter().touch()
    assert not environment.ready(wanted)
    environment._stamp(wanted)
    assert environment.ready(wanted)
    wanted.write_text("one==2\n")
    assert not environment.ready(wanted)


def test_a_torn_stamp_means_not_ready(monkeypatch, tmp_path):
    monkeypatch.setattr(layout, "VENV", tmp_path)
    environment.stamp_path().write_text('{"requirements.txt": "abc')
    assert environment.stamps() == {}


def test_only_tests_and_checks_ask_for_the_test_list():
    wanted = {word: entry.list_for(word).name for word in ("demo", "migrate", "test", "check_all")}
    assert wanted == {
        "demo": "requirements.txt",
        "migrate": "requirements.txt",
        "test": "requirements-test.txt",
        "check_all": "requirements-test.txt",
    }


def test_a_missing_system_library_names_feature_and_command(monkeypatch, capsys):
    need = debian.Need("flying", "libwings1", library="libwings.so.1")
    monkeypatch.setenv(debian.SWITCH, "off")
    debian.provide([need])
    said = capsys.readouterr().err
    assert "libwings1 is missing, so flying is off." in said
    assert "libwings1" in said.partition("To mend it:")[2]


def test_present_needs_are_not_mentioned(capsys):
    debian.provide([debian.Need("counting", "libc6", library="libc.so.6", linux_only=True)])
    assert capsys.readouterr().err == ""


def test_a_taken_port_is_a_sentence(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = subprocess.run(
            [sys.executable, "manage.py", "demo", "--empty", "--port", str(port)],
            cwd=layout.ROOT,
            env={**os.environ, "COACHHUB_VAR": str(tmp_path)},
            capture_output=True,
            text=True,
            timeout=60,
        )
    assert done.returncode == 1
    assert f"Port {port} is taken by another program" in done.stderr
    assert f"manage.py demo --port {port + 1}" in done.stderr
    assert "Traceback" not in done.stderr
