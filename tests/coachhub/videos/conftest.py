from __future__ import annotations

from pathlib import Path

import pytest

from coachhub.camps.models import Cohort
from coachhub.swings.tasks import measure
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission
from coachhub.videos.tasks import check, make_rendition
from tests import factories


class Queue(list[tuple[str, int]]):
    """What was sent to the workers: name of the task and id."""


@pytest.fixture
def queue(monkeypatch: pytest.MonkeyPatch) -> Queue:
    sent = Queue()
    for task in (check, make_rendition, measure):
        monkeypatch.setattr(task, "delay", lambda pk, name=task.name: sent.append((name, pk)))
    return sent


@pytest.fixture
def cohort() -> Cohort:
    return factories.make_cohort()


@pytest.fixture
def submission(cohort: Cohort, queue: Queue) -> Submission:
    student = factories.make_student(cohort)
    return factories.make_submission(
        student, cohort, state=SubmissionState.OPEN, sent_at=None, settled_at=None
    )


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "incoming"
    path.write_bytes(b"swing" * 1000)
    return path
