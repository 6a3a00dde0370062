"""A case from the swing to the approved post and out again; and one's own data, taken along and deleted."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from playwright.sync_api import Page, expect

from analysis.adapters.truth import read_truth, truth_swing
from analysis.types import JOINTS
from coachhub.accounts.models import User
from coachhub.feedback.models import Case, Review
from coachhub.swings.models import AnalysisRun
from coachhub.videos.models import Clip
from tests import factories
from tests.cast import Cast, make_cast
from tests.e2e.axe import serious_findings
from tests.e2e.conftest import DESKTOP, PHONE, OpenPage
from tests.factories import NOW, PASSWORD

pytestmark = [
    pytest.mark.e2e,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("work_at_once"),
]
CLIPS = Path(__file__).parents[2] / "fixtures" / "clips"


def sound(page: Page) -> None:
    assert serious_findings(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def answered_swing(cast: Cast) -> Review:
    """Published, with a rendered film and the lines over it; the swing is its fastest half second."""
    submission = factories.make_submission(cast.student, cast.cohort, state="answered")
    key = "renditions/swing.mp4"
    default_storage.save(key, ContentFile((CLIPS / "fo_early.mp4").read_bytes()))
    clip = factories.make_clip(submission, rendition_key=key, original_key=key)
    swing = factories.make_swing(clip)
    swing.start_s, swing.end_s = 1.2, 1.65
    swing.save()
    AnalysisRun.objects.update(result_key="measured/swing")
    pose = truth_swing(read_truth(CLIPS / "fo_early.json.gz"))[0].pose
    shares = pose.xy / (pose.width, pose.height)
    joints = {name: [[*map(float, xy), 1.0] for xy in shares[:, k]] for k, name in enumerate(JOINTS)}
    lines = {"swings": [{"t_us": [round(t * 1e6) for t in pose.t_s], "joints": joints}]}
    default_storage.save("measured/swing/tracks.json", ContentFile(json.dumps(lines).encode()))
    return factories.make_review(
        submission, state="published", published_at=NOW, published_by=cast.coach, claimed_by=cast.coach
    )


def test_a_case_from_the_swing_to_the_post_and_out_again(open_page: OpenPage) -> None:
    cast = make_cast()
    review = answered_swing(cast)
    page = open_page(cast.coach, f"/lessons/from/{review.public_id}/", size=DESKTOP)
    expect(page.get_by_text("has not agreed to be shown")).to_be_visible()
    factories.agree(cast.student, "cohort")
    page.goto(f"/coach/desk/{review.public_id}/")
    page.get_by_role("link", name="Make a lesson of this for others").click()
    sound(page)
    page.get_by_label("Title").fill("Where the turf is touched")
    page.get_by_label("What is to be learnt").fill("Look where the club meets the ground.")
    page.get_by_role("button", name="Make the covered film").click()
    expect(page.get_by_role("heading", name="Every frame")).to_be_visible(timeout=90_000)
    sound(page)
    ticks = page.get_by_role("checkbox", name=re.compile("I looked at each of frames"))
    assert ticks.count() == 2
    # The second picture waits until one scrolls there.
    ticks.first.check()
    page.get_by_role("button", name="It may be shown").click()
    expect(page.get_by_text("Look at every sheet first. Left: 2.")).to_be_visible()
    expect(ticks.first).to_be_checked()
    ticks.last.check()
    page.get_by_role("button", name="It may be shown").click()
    sound(page)
    page.get_by_label(re.compile("Everybody in Morning")).check()
    page.get_by_role("button", name="Post it").click()
    expect(page.get_by_text("Shown to 2 students")).to_be_visible()
    case = Case.objects.get()
    address = f"/lessons/{case.public_id}/"

    mate = open_page(cast.cohort_mate, "/my/", size=PHONE, has_touch=True)
    mate.get_by_role("link", name="Lessons from the camp").click()
    sound(mate)
    mate.get_by_role("link", name="Where the turf is touched").click()
    expect(mate.locator("video")).to_have_js_property("videoWidth", 720)
    assert cast.student.name not in mate.content()
    sound(mate)
    # In the own talk a line leads there.
    mate.goto("/my/")
    mate.get_by_role("link", name="Talk with your coach").click()
    mate.get_by_role("link", name="See the swing").click()
    assert mate.url.endswith(address)

    me = open_page(cast.student, address, size=PHONE, has_touch=True)
    me.get_by_role("button", name="Show my name with it").click()
    sound(me)
    mate.reload()
    assert cast.student.name in mate.content()
    film = mate.locator("video").get_attribute("src")
    assert film is not None
    # What was agreed to is taken back: page, film and the line in the talk are gone for everybody.
    me.goto("/account/consents/")
    me.get_by_role("group", name=re.compile("^Showing a swing")).get_by_label("No").check()
    me.get_by_role("button", name=re.compile("Save")).first.click()
    assert not Case.objects.exists()
    gone = mate.goto(address)
    assert gone is not None and gone.status == 404
    assert mate.request.get(film).status == 404
    mate.goto("/my/")
    mate.get_by_role("link", name="Talk with your coach").click()
    expect(mate.get_by_role("link", name="See the swing")).to_have_count(0)
    assert not default_storage.exists(f"{case.folder_key}/film.mp4")


def test_own_data_taken_along_kept_and_deleted(open_page: OpenPage) -> None:
    cast = make_cast()
    answered_swing(cast)
    page = open_page(cast.student, "/account/", size=PHONE, has_touch=True)
    page.get_by_role("link", name=re.compile("My data")).click()
    sound(page)
    page.get_by_role("button", name="Make the file").click()
    with page.expect_download() as coming:
        page.get_by_role("link", name=re.compile("The file of")).click()
    assert re.fullmatch(r"my-data-\d{4}-\d\d-\d\d\.zip", coming.value.suggested_filename)
    page.get_by_role("button", name="Keep my videos for a year more").click()
    expect(page.get_by_text("and these a year more")).to_be_visible()
    camp = open_page(cast.organiser, f"/data/camps/{cast.camp.public_id}/", size=DESKTOP)
    row = camp.get_by_role("row", name=re.compile(cast.student.name))
    expect(row.get_by_role("cell").last).to_have_text("yes")
    sound(camp)
    page.get_by_role("link", name="Delete everything…").click()
    sound(page)
    page.get_by_label("I understand").check()
    page.get_by_label("Your password").fill("not the password")
    page.get_by_role("button", name="Delete everything now").click()
    expect(page.get_by_text("This is not your password.")).to_be_visible()
    page.get_by_label("I understand").check()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Delete everything now").click()
    expect(page.get_by_role("heading", name="Everything of yours is deleted")).to_be_visible()
    assert not User.objects.filter(pk=cast.student.pk).exists() and not Clip.objects.exists()
    assert not default_storage.exists("renditions/swing.mp4")
    page.goto("/my/")
    assert "/account/sign-in/" in page.url
