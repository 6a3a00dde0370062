from __future__ import annotations

import pytest

from coachhub.swings.tasks import measure
from coachhub.videos import tasks
from coachhub.videos.domain.jobs import send
from coachhub.videos.enums import ClipWork
from coachhub.videos.models import ClipJob

pytestmark = pytest.mark.unit


def test_the_rendition_is_sent_in_a_later_millisecond_than_the_measuring(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """kombu's filesystem transport names a message by the rounded millisecond and takes them in that order."""
    from time import monotonic

    sent: list[tuple[str, int]] = []
    monkeypatch.setattr(measure, "delay", lambda pk: sent.append(("measure", round(monotonic() * 1000))))
    monkeypatch.setattr(
        tasks.make_rendition, "delay", lambda pk: sent.append(("rendition", round(monotonic() * 1000)))
    )
    for number in range(20):
        measure.delay(number)
        send(ClipJob(pk=number, work=ClipWork.RENDITION))
    assert [name for name, _ in sorted(sent, key=lambda one: one[1])] == ["measure", "rendition"] * 20
    assert all(late[1] > early[1] for early, late in zip(sent[::2], sent[1::2], strict=True))
