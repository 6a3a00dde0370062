"""The queue page with 5,000 waiting swings: queries, and server time against a queue of one page, printed."""

from __future__ import annotations

import random
import statistics
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from coachhub.camps.models import Cohort
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.swings.models import Readout, SignFlag, Swing
from coachhub.videos.models import Clip, Submission
from tests import factories
from tests.cast import make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.bench, pytest.mark.integration, pytest.mark.django_db]
SWINGS = 5_000
STUDENTS = 100
REQUESTS = 40
QUERIES: tuple[dict[str, str], ...] = (
    {},
    {"page": "120"},
    {"group": "student"},
    {"view": "dtl", "reason": "overdue"},
)
MOST_QUERIES = 14
# The wish is 150 ms at the 95th percentile on a quiet machine. What fails the test does not depend on the machine:
# how much dearer a page of 5,000 swings is than the same page of a queue that fits on it, in one run.
WISHED_P95_MS = 150
FEW_SWINGS = 25
MOST_TIMES_DEARER = 2.5


def fill(cohort: Cohort, students: list[object], numbers: range) -> None:
    """One swing in each submission: the hardest case, as many rows in the queue as swings."""
    dice, now = random.Random(7), timezone.now()
    template = factories.make_submission(students[0], cohort)  # type: ignore[arg-type]
    run = factories.make_run(factories.make_clip(template))
    shared = {"camp": cohort.camp, "cohort": cohort, "state": "usable", "created_at": NOW}
    submissions = Submission.objects.bulk_create(
        Submission(
            student=students[n % STUDENTS],
            range_day=NOW.date(),
            club_class=dice.choice(("iron", "driver", "wedge")),
            miss_start="left",
            note="A note of some length, as students write them. " * 8,
            **shared,
        )
        for n in numbers
    )
    clips = Clip.objects.bulk_create(
        Clip(
            submission=submission,
            number=1,
            view=dice.choice(("face_on", "dtl")),
            state="usable",
            sha256=f"{n:064x}",
            size=1,
            original_key=f"originals/{n}",
            created_at=NOW,
        )
        for n, submission in zip(numbers, submissions, strict=True)
    )
    swings = Swing.objects.bulk_create(
        Swing(clip=clip, number=1, start_s=0, end_s=2, created_at=NOW) for clip in clips
    )
    readouts = Readout.objects.bulk_create(
        Readout(swing=swing, run=run, data=factories.readout_data({}), created_at=NOW) for swing in swings
    )
    SignFlag.objects.bulk_create(
        SignFlag(readout=readout, sign=sign, level=dice.choice(("likely", "possible", "not_seen")))
        for readout in readouts
        for sign in ("early_release", "sway", "steep_plane", "slide")
    )
    Review.objects.bulk_create(
        Review(
            submission=submission,
            state=ReviewState.WAITING,
            due_at=now + timedelta(minutes=dice.randrange(-2_000, 4_000)),
            has_red_flag=dice.random() < 0.01,
            has_pain=dice.random() < 0.1,
            is_first=dice.random() < 0.02,
            words="A draft. " * 50,
            created_at=NOW,
        )
        for submission in submissions
    )


def server_seconds() -> float:
    """Processor time so far of this process and of the database's process for this connection.

    The embedded database works inside this process. Processor time is what the page costs, whatever else runs on
    the machine; the wall clock is printed beside it.
    """
    spent = time.process_time()
    if connection.vendor == "postgresql":
        backend = connection.connection.info.backend_pid
        # Linux, Documentation/scheduler/sched-stats.rst: first the nanoseconds spent on a processor.
        spent += int(Path(f"/proc/{backend}/schedstat").read_text().split()[0]) / 1e9
    return spent


def measured(client: Client, address: str) -> tuple[list[float], list[float]]:
    """Milliseconds of each request: processor time, and by the clock on the wall."""
    processor, wall = [], []
    for _ in range(REQUESTS):
        began, began_wall = server_seconds(), time.perf_counter()
        client.get(address)
        processor.append((server_seconds() - began) * 1000)
        wall.append((time.perf_counter() - began_wall) * 1000)
    return processor, wall


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[max(0, round(share * len(values)) - 1)]


def analyse_tables() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def test_queue_page_with_5000_swings(capsys: pytest.CaptureFixture[str]) -> None:
    cast = make_cast()
    students: list[object] = [factories.make_student(cast.cohort) for _ in range(STUDENTS)]
    client = Client()
    client.force_login(cast.coach)

    fill(cast.cohort, students, range(FEW_SWINGS))
    analyse_tables()
    client.get(reverse("coach:queue"))
    small = statistics.median(measured(client, reverse("coach:queue"))[0])

    fill(cast.cohort, students, range(FEW_SWINGS, SWINGS))
    analyse_tables()
    lines = [f"queue of {FEW_SWINGS}: server time p50 {small:.0f} ms"]
    for query in QUERIES:
        address = reverse("coach:queue", query=query)
        with CaptureQueriesContext(connection) as seen:
            response = client.get(address)
        queries = len(seen)
        assert len(response.context["rows"]) == 25
        processor, wall = measured(client, address)
        middle, p95 = statistics.median(processor), percentile(processor, 0.95)
        wish = "meets" if p95 <= WISHED_P95_MS else "misses"
        lines.append(
            f"queue {query or 'plain'}: {queries} queries, server time p50 {middle:.0f} ms "
            f"({middle / small:.1f} times the small queue's), p95 {p95:.0f} ms ({wish} {WISHED_P95_MS} ms); "
            f"by the wall clock p95 {percentile(wall, 0.95):.0f} ms"
        )
        assert queries <= MOST_QUERIES, lines[-1]
        assert middle <= MOST_TIMES_DEARER * small, lines[-1]
    with capsys.disabled():
        print(f"\n{SWINGS} swings, {connection.vendor}, {REQUESTS} requests each")
        print("\n".join(lines))
