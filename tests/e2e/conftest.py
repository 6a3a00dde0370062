"""A real browser against a live server; people sign in by their session, pages are driven as people drive them."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.core.signals import request_finished, request_started
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from coachhub.accounts.models import User
from coachhub.bootstrap import debian
from coachhub.celery import app

# The browser's driver keeps an event loop in this thread; the ORM is used between its calls, never inside.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

# How long something may take to show itself on a machine that others share; what is there is not waited for.
LONGEST_WAIT_MS = 60_000
expect.set_options(timeout=LONGEST_WAIT_MS)

BROWSER_OPTIONS = (
    "--no-sandbox",
    "--use-fake-device-for-media-stream=fps=30",
    "--use-fake-ui-for-media-stream",
    "--autoplay-policy=no-user-gesture-required",
)
DESKTOP, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}

OpenPage = Callable[..., Page]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as driver:
        started = driver.chromium.launch(
            executable_path=debian.find_program("chromium"), args=list(BROWSER_OPTIONS)
        )
        yield started
        started.close()


class RequestsUnderWay:
    """Requests that the live server has begun and not ended, by whatever thread."""

    def __init__(self) -> None:
        self.count = 0
        self.lock = threading.Lock()
        request_started.connect(self.began, weak=False)
        request_finished.connect(self.ended, weak=False)

    def began(self, **_: Any) -> None:
        with self.lock:
            self.count += 1

    def ended(self, **_: Any) -> None:
        with self.lock:
            self.count -= 1

    def wait_for_none(self, *, quiet_s: float = 0.05, at_most_s: float = 60) -> None:
        """Until none was under way for a moment: one that left the browser may not have begun yet."""
        began = busy_at = time.monotonic()
        while time.monotonic() - busy_at < quiet_s and time.monotonic() - began < at_most_s:
            if self.count > 0:
                busy_at = time.monotonic()
            time.sleep(0.01)


@pytest.fixture(scope="session")
def requests_under_way() -> RequestsUnderWay:
    return RequestsUnderWay()


@pytest.fixture
def open_page(browser: Browser, live_server: Any, requests_under_way: RequestsUnderWay) -> Iterator[OpenPage]:
    """``open_page(user, "/path/", size=PHONE)``: signed in, loaded; any script error fails the test."""
    contexts: list[BrowserContext] = []
    problems: list[str] = []

    def opened(user: User | None, path: str, *, size: Any = None, **options: Any) -> Page:
        context = browser.new_context(
            viewport=size or DESKTOP, base_url=live_server.url, locale="en-GB", **options
        )
        contexts.append(context)
        context.set_default_timeout(LONGEST_WAIT_MS)
        if user is not None:
            context.add_cookies([session_cookie(user, live_server.url)])
        page = context.new_page()
        page.on("pageerror", lambda problem: problems.append(str(problem)))
        page.on("console", lambda said: _note_policy(said, problems))
        page.goto(path)
        return page

    yield opened
    for context in contexts:
        context.close()
    # The tables are emptied next, through the connection that the server's threads share.
    requests_under_way.wait_for_none()
    assert problems == []


def _note_policy(said: Any, problems: list[str]) -> None:
    if "Content Security Policy" in said.text:
        problems.append(said.text)


def session_cookie(user: User, url: str) -> Any:
    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.create()
    return {"name": "sessionid", "value": session.session_key, "url": url}


@pytest.fixture
def work_at_once() -> Iterator[None]:
    """Tasks run where they are sent from; real workers have their own tests."""
    app.conf.task_always_eager = True
    yield
    app.conf.task_always_eager = False
