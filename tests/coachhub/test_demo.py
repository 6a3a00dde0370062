"""The demo camp says what its clips show: a measured change, a promise that is late, a clip with nobody in it."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from django.db.models import Count
from django.utils import timezone

from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.progress.domain.trends import metric_trend
from coachhub.swings.domain.measuring import measure_run
from coachhub.swings.models import AnalysisRun, SignJudgement
from coachhub.videos.domain.intake import check_clip, render_clip
from coachhub.videos.enums import ClipState, ClipWork, SubmissionState
from coachhub.videos.models import Clip, ClipJob, Submission

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.integration,
    pytest.mark.usefixtures("measured_once"),
]
TOLD = ("callum", "goran", "farid")


def test_the_demo_camp_shows_what_was_filmed() -> None:
    words = [word for key in TOLD for word in ("--student", key)]
    call_command("load_demo", "--measure", *words, stdout=StringIO())
    work()
    camp = Camp.objects.get()
    assert_changed(camp)
    assert_overdue()
    assert_refused()
    assert not Clip.objects.values("sha256").annotate(times=Count("pk")).filter(times__gt=1).exists()


def work() -> None:
    """What the worker does with the swings that are sent at loading time."""
    for job in ClipJob.objects.filter(job_state="waiting", work=ClipWork.CHECK):
        check_clip(job.pk, clock=timezone.now)
    for run in AnalysisRun.objects.filter(job_state="waiting"):
        measure_run(run.pk, clock=timezone.now)
    for job in ClipJob.objects.filter(job_state="waiting", work=ClipWork.RENDITION):
        render_clip(job.pk, clock=timezone.now)


def assert_changed(camp: Camp) -> None:
    """Built into the clips: an overlong backswing at .95 to 1, a week and a half later at .11 to .12 of the fault."""
    callum = User.objects.get(email__startswith="callum")
    trend = metric_trend(callum, camp, "shaft_past_parallel_top", view="face_on", club_class="iron")
    assert [point.mean.n for point in trend.points] == [3, 3]
    change = trend.change
    assert change is not None and change.enough
    print(f"\nshaft past level at the top: {change.value:.1f} ± {change.half_width:.1f} degrees")
    assert change.value + change.half_width < -10
    judged = SignJudgement.objects.filter(
        sign="overlong_backswing", swing__clip__submission__student=callum
    ).values_list("swing__clip__submission__range_day", "verdict")
    said = {day: {verdict for on, verdict in judged if on == day} for day, _ in judged}
    assert [said[day] for day in sorted(said)] == [{"agree"}, {"not_this"}]


def assert_overdue() -> None:
    waiting = Review.objects.get(submission__student__email__startswith="goran", state=ReviewState.WAITING)
    assert waiting.due_at is not None and waiting.due_at < timezone.now()


def assert_refused() -> None:
    again = Submission.objects.get(state=SubmissionState.REFILM)
    assert again.student.email.startswith("farid")
    clip = again.clips.get()
    assert (clip.state, clip.refused_code) == (ClipState.REFUSED, "no_golfer")
    assert "Film" in clip.refused_text
