"""How the two test runs are put together, and that nothing is left out unnoticed."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from coachhub.bootstrap import layout, testrun

pytestmark = pytest.mark.unit


def outcome(form=testrun.EMBEDDED, status=0, passed=1, failed=0, skipped=0):
    return testrun.Outcome(form, status, passed, failed, skipped, 1.0)


def test_both_forms_run_unless_one_is_asked_for():
    assert testrun.split_forms(["-k", "x"]) == (["embedded", "scaled"], ["-k", "x"])
    assert testrun.split_forms(["--form=scaled", "tests/a.py"]) == (["scaled"], ["tests/a.py"])


def test_an_unknown_form_is_refused():
    with pytest.raises(SystemExit, match="--form must be one of"):
        testrun.split_forms(["--form=huge"])


def test_own_marks_are_joined_to_the_forms():
    assert testrun.narrowed("embedded", ["-x"]) == ["-m", "(not scaled)", "-x"]
    assert testrun.narrowed("scaled", ["-m", "e2e", "-x"], "not bench") == [
        "-m",
        "(e2e) and (integration or scaled) and (not bench)",
        "-x",
    ]


def test_as_many_processes_as_cores_but_not_more_than_memory_holds(monkeypatch):
    monkeypatch.setattr(testrun.layout, "cores", lambda: 2)
    assert testrun.processes(["-k", "x"]) == 2
    assert [testrun.processes([word]) for word in ("--pdb", "-s", "--numprocesses=3")] == [1, 1, 1]
    monkeypatch.setattr(testrun.layout, "cores", lambda: 64)
    assert testrun.processes([]) == testrun.MOST_PROCESSES


@pytest.mark.parametrize(
    "together, alone, whole", [(0, 5, 0), (5, 0, 0), (5, 5, 5), (1, 0, 1), (0, 1, 1), (2, 5, 2)]
)
def test_the_two_parts_of_a_forms_run_are_one(together, alone, whole):
    parts = outcome(status=together, passed=2) + outcome(status=alone, passed=3, skipped=1)
    assert (parts.status, parts.passed, parts.skipped, parts.seconds) == (whole, 5, 1, 2.0)


def test_counts_come_from_the_report(tmp_path):
    report = tmp_path / "report.xml"
    report.write_text('<testsuites><testsuite tests="9" failures="1" errors="2" skipped="3"/></testsuites>')
    found = testrun.read_report("embedded", report, 1, 2.0)
    assert (found.passed, found.failed, found.skipped) == (3, 3, 3)


@pytest.mark.parametrize(
    "outcomes, status",
    [
        ([outcome()], 0),
        ([outcome(), outcome(testrun.SCALED, status=testrun.NO_TESTS, passed=0)], 0),
        ([outcome(status=testrun.NO_TESTS, passed=0)], testrun.NO_TESTS),
        ([outcome(), outcome(testrun.SCALED, status=1, failed=1)], 1),
        ([outcome(status=2, passed=0), outcome(testrun.SCALED)], 2),
        ([], testrun.NO_TESTS),
    ],
)
def test_the_whole_is_good_only_if_tests_ran_and_each_run_was_good(outcomes, status, capsys):
    assert testrun.summarise(outcomes) == status
    passed, failed = sum(o.passed for o in outcomes), sum(o.failed for o in outcomes)
    assert capsys.readouterr().out.endswith(f"\n{passed} passed, {failed} failed, 0 skipped\n")


SKIPPING = """
import pytest


@pytest.mark.unit
def test_good():
    pass


def test_left_out():
    pytest.skip("why")
"""


@pytest.mark.parametrize("ci, status", [("true", 1), ("", 0)])
def test_in_ci_a_skipped_test_fails_the_run(tmp_path, ci, status):
    (tmp_path / "test_sample.py").write_text(SKIPPING)
    command = [sys.executable, "-m", "pytest", "-q", "-p", "tests.conftest", f"--rootdir={layout.ROOT}"]
    command += ["-c", str(layout.ROOT / "pyproject.toml"), str(tmp_path)]
    env = {**os.environ, "CI": ci, "COACHHUB_VAR": str(tmp_path / "var")}
    done = subprocess.run(command, cwd=layout.ROOT, env=env, capture_output=True, text=True)
    assert done.returncode == status, done.stdout + done.stderr
    assert ("test_left_out" in done.stdout.partition("CI=true, and 1 tests were skipped")[2]) == bool(ci)
