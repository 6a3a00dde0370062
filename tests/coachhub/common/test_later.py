from __future__ import annotations

from functools import partial

import pytest
from django.conf import settings
from django.db import transaction

from coachhub.celery import app
from coachhub.common.domain.later import after_commit


@pytest.mark.integration
@pytest.mark.django_db(transaction=True)
def test_what_fails_afterwards_is_logged_and_breaks_nothing(caplog: pytest.LogCaptureFixture) -> None:
    done: list[str] = []

    def fail(word: str) -> None:
        raise OSError(f"no queue for {word}")

    with transaction.atomic():
        after_commit(partial(fail, "letters"))
        after_commit(done.append, "second")
        assert done == []
    assert done == ["second"]
    assert "no queue for letters" in caplog.text


@pytest.mark.unit
def test_every_task_can_be_sent() -> None:
    """The queue refuses a task whose soft limit lies above its hard one, and only when it is sent."""
    app.loader.import_default_modules()
    own = [task for name, task in app.tasks.items() if not name.startswith("celery.")]
    assert len(own) >= 8
    for task in own:
        hard = task.time_limit or settings.CELERY_TASK_TIME_LIMIT
        soft = task.soft_time_limit or settings.CELERY_TASK_SOFT_TIME_LIMIT
        assert soft < hard, task.name
