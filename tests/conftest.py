"""What every test stands on: own folders, collected static files, and no test left out unnoticed in CI."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import handlers
from django.test.testcases import _StaticFilesHandler
from hypothesis import HealthCheck
from hypothesis import settings as invention

from coachhub.bootstrap import debian, testrun
from tests import workers
from tests.stack import Stack

ROOT = Path(__file__).resolve().parents[1]
WEB_TESTS = ("tests/coachhub", "tests/e2e", "tests/bench")
# A slow machine is no fault of the code, and in CI the same inputs are invented each time.
invention.register_profile(
    "any machine",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=os.environ.get("CI", "").lower() == "true",
)
invention.load_profile("any machine")

MEASURING = ("bench", "e2e")
_skipped: list[str] = []
_numbers: list[tuple[str, str]] = []


def pytest_configure(config: pytest.Config) -> None:
    if config.getoption("dist", "no") != "no" and not config.pluginmanager.hasplugin(workers.NAME):
        raise pytest.UsageError(
            "Processes side by side need folders of their own: "
            f"run `manage.py test`, or set PYTEST_PLUGINS={workers.NAME}"
        )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests whose server or browser is missing are skipped by name, each with its reason."""
    from django.conf import settings

    if workers.worker_name():
        items.sort(key=lambda item: workers.turn(item.nodeid))
    on_postgres = "postgresql" in settings.DATABASES["default"]["ENGINE"]
    no_servers = os.environ.get(testrun.SKIP_VARIABLE, "")
    no_browser = debian.find_program("chromium") is None
    for item in items:
        if no_servers:
            item.add_marker(pytest.mark.skip(reason=no_servers))
        elif item.get_closest_marker("scaled") and not on_postgres:
            item.add_marker(pytest.mark.skip(reason="needs PostgreSQL and Redis: run `manage.py test`"))
        if item.get_closest_marker("e2e") and no_browser:
            item.add_marker(pytest.mark.skip(reason="Chromium is not installed"))


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.skipped and not hasattr(report, "wasxfail"):
        _skipped.append(report.nodeid)
    if report.when == "call" and report.passed and not set(MEASURING).isdisjoint(report.keywords):
        _numbers.append((report.nodeid.rpartition("::")[2], report.capstdout.strip()))


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """What the passed tests measured, on one's screen too: it is else only shown of those that fail."""
    if any(said for _, said in _numbers):
        terminalreporter.section("measured")
    for name, said in _numbers:
        if said:
            terminalreporter.write_line(f"{name}\n    " + said.replace("\n", "\n    "))


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """In CI a skipped test is a failure: the machine there has, or installs, all that the tests need."""
    if hasattr(session.config, "workerinput"):
        return  # whoever started the workers hears of all tests
    if _skipped and os.environ.get("CI", "").lower() == "true" and exitstatus in (0, 5):
        print(f"\nCI=true, and {len(_skipped)} tests were skipped: " + ", ".join(_skipped))
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture(scope="session", autouse=True)
def collected_static(request: pytest.FixtureRequest) -> None:
    """Pages name static files by content, so these must be collected before a page is rendered."""
    wanted = [str(ROOT / part) for part in WEB_TESTS]
    if not any(str(item.path).startswith(tuple(wanted)) for item in request.session.items):
        return
    from django.conf import settings
    from django.contrib.staticfiles.storage import staticfiles_storage
    from django.core.management import call_command

    folder = Path(settings.STATIC_ROOT).resolve()
    folder.mkdir(parents=True, exist_ok=True)
    run = os.environ.get("PYTEST_XDIST_TESTRUNUID", "")
    # The processes of one run share the folder; the first of them fills it.
    with folder.with_name("static.run").open("a+") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        handle.seek(0)
        if run and handle.read() == run:
            staticfiles_storage.hashed_files, staticfiles_storage.manifest_hash = (
                staticfiles_storage.load_manifest()
            )
            return
        call_command("collectstatic", interactive=False, verbosity=0)
        handle.truncate(0)
        handle.write(run)


@pytest.fixture(scope="session", autouse=True)
def static_files_listed_once(collected_static: None) -> Iterator[None]:
    """Each test client builds the middleware anew, and it would look at every static file each time."""
    from whitenoise.base import WhiteNoise

    look, found = WhiteNoise.update_files_dictionary, {}

    def listed(self: Any, root: str, prefix: str) -> None:
        if (root, prefix) not in found:
            look(self, root, prefix)
            found[root, prefix] = dict(self.files)
        self.files.update(found[root, prefix])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(WhiteNoise, "update_files_dictionary", listed)
        yield


@pytest.fixture(scope="session", autouse=True)
def collected_files_only() -> None:
    """The live server's usual handler looks for files by their source names; ours are named by their content.

    Here and not beside the browser tests: one live server serves the whole run, and others start it first.
    """
    handlers.StaticFilesHandler = _StaticFilesHandler  # type: ignore[misc,assignment]


@pytest.fixture(autouse=True)
def own_folders(settings: Any, tmp_path: Path) -> None:
    """Media, uploads and mail of one test stay in its own folder."""
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.UPLOAD_DIR = tmp_path / "uploads"
    settings.EMAIL_FILE_PATH = tmp_path / "mail"
    # The real hasher is slow on purpose, and a cast has eight passwords.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    stored = dict(settings.STORAGES)
    if not settings.S3_BUCKET:
        options = {**stored["default"]["OPTIONS"], "location": str(tmp_path / "media")}
        settings.STORAGES = {**stored, "default": {**stored["default"], "OPTIONS": options}}


@pytest.fixture
def measured_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests that need measured clips and are not about the measuring: each clip once in the whole run."""
    from tests import measured  # with models, so not before the settings

    measured.remember(monkeypatch.setattr)


@pytest.fixture
def stack(tmp_path: Path) -> Iterator[Stack]:
    """A site of its own with real processes; see tests/stack.py."""
    site = Stack(tmp_path / "stack")
    try:
        yield site
    finally:
        site.close()
