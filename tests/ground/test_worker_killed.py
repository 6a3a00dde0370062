"""A worker that dies half-way loses nothing: the row is the truth, and the sweep gives it to the next worker."""

from __future__ import annotations

import signal

import pytest

from coachhub.bootstrap import layout
from tests.processes import children_of, runs
from tests.stack import Stack

pytestmark = pytest.mark.integration
CLIP = layout.ROOT / "fixtures" / "camp" / "student_a_day1_1.mp4"
LIMIT_S = 300

ASK = f"""
import hashlib
from datetime import UTC, datetime
from pathlib import Path
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from coachhub.swings.domain.runs import request_run
from tests import factories
content = Path({str(CLIP)!r}).read_bytes()
digest = hashlib.sha256(content).hexdigest()
key = default_storage.save("originals/" + digest, ContentFile(content))
cohort = factories.make_cohort()
submission = factories.make_submission(factories.make_student(cohort), cohort, state="sent", settled_at=None)
clip = factories.make_clip(submission, state="playable", sha256=digest, size=len(content), original_key=key)
answer = request_run(clip, now=datetime.now(UTC)).pk
"""
LOOK = """
from coachhub.swings.models import AnalysisRun
answer = AnalysisRun.objects.values("job_state", "attempts", "stage", "percent", "error_text", "result_key").get()
"""
COUNT = """
from coachhub.swings.models import Readout, SignFlag, Swing
from coachhub.videos.models import Clip
answer = {"swings": Swing.objects.count(), "readouts": Readout.objects.count(), "flags": SignFlag.objects.count(),
          "clip": Clip.objects.get().state, "events": sorted(Readout.objects.first().data["events"])}
"""


@pytest.fixture
def site(tmp_path):
    # A short lease: the sweep may take the work over soon after the worker fell silent.
    stack = Stack(tmp_path / "stack", JOB_LEASE_SECONDS="15")
    try:
        yield stack
    finally:
        stack.close()


def test_a_killed_worker_loses_no_analysis(site):
    site.python(ASK)
    first = site.worker()
    site.wait(lambda: _half_way(site), LIMIT_S, "the analysis is under way")
    family = [first.process.pid, *children_of(first.process.pid)]
    first.signal(signal.SIGKILL)
    first.process.wait()
    site.wait(lambda: not [pid for pid in family if runs(pid)], 15, "worker and measuring child are gone")
    left = site.python(LOOK)
    assert (left["job_state"], left["attempts"], left["result_key"]) == ("running", 1, "")

    site.worker()
    site.beat()
    done = site.wait(lambda: _over(site), LIMIT_S, "the analysis is finished by the next worker")
    assert (done["job_state"], done["attempts"], done["error_text"]) == ("done", 2, "")
    found = site.python(COUNT)
    assert found["clip"] == "usable"
    assert (found["swings"], found["readouts"]) == (1, 1)
    assert found["flags"] >= 5
    assert {"address", "top", "impact"} <= set(found["events"])


def _half_way(site: Stack) -> bool:
    row = site.python(LOOK)
    assert row["job_state"] in {"waiting", "running"}, row
    return row["job_state"] == "running" and row["percent"] > 0


def _over(site: Stack) -> dict[str, object] | None:
    row = site.python(LOOK)
    return row if row["job_state"] in {"done", "failed"} else None
