"""A minor comes in, the guardian agrees, a film is taken; the guardian takes the word back, and no film is taken."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.core import mail
from django.utils import timezone
from playwright.sync_api import Page, expect

from coachhub.accounts.models import Guardianship, User
from coachhub.camps.domain.invitations import invite, token_of
from coachhub.camps.enums import Role
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.videos.models import Upload
from tests import factories
from tests.e2e.axe import serious_findings
from tests.e2e.conftest import PHONE, OpenPage
from tests.e2e.test_phone import choose, film, upload

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]
PASSWORD = "heron-over-reeds-5"


def good(page: Page) -> None:
    assert serious_findings(page) == []
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 1


def join_as_a_minor(page: Page) -> None:
    page.get_by_label("E-mail").fill("mika.reed@example.org")
    page.get_by_label("Your name").fill("Mika Reed")
    page.get_by_label("A password").fill(PASSWORD)
    month = page.get_by_label("Month of birth")
    expect(month).to_be_hidden()
    page.get_by_label("I am under 18").check()
    expect(month).to_be_visible()
    month.select_option("3")
    page.get_by_label("Year of birth").fill(str(timezone.now().year - 13))
    good(page)
    page.get_by_role("button", name="Make my account and join").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Before your first swing")


def answer_the_intake(page: Page) -> None:
    expect(page.get_by_label("I agree that my videos")).to_have_count(0)
    expect(page.get_by_label("lower back", exact=True)).to_be_hidden()
    page.get_by_label("left-handed", exact=True).check()
    expect(page.get_by_text("turn off mirroring")).to_be_visible()
    page.get_by_label("just starting").check()
    page.get_by_label("pain now", exact=True).check()
    expect(page.get_by_label("lower back", exact=True)).to_be_visible()
    page.get_by_label("no pain", exact=True).check()
    page.get_by_label("E-mail address of a parent or guardian").fill("parent.reed@example.org")
    good(page)
    page.get_by_role("button", name="Save my answers").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("My guardians")
    expect(page.get_by_text("Not yet:")).to_be_visible()
    good(page)


def begin_a_submission(page: Page) -> None:
    page.goto("/my/new/")
    page.get_by_label("iron", exact=True).check()
    page.get_by_role("group", name="Does anything hurt today?").get_by_label("No", exact=True).check()
    page.get_by_role("button", name="Go on to the clips").click()
    expect(page.get_by_role("heading", name="Add clips")).to_be_visible()


def decide(page: Page, purpose: str, word: str) -> None:
    page.get_by_role("group", name=re.compile(purpose)).get_by_label(word).check()


@pytest.mark.usefixtures("work_at_once")
def test_no_film_before_the_guardians_word_and_none_after_it_was_taken_back(
    open_page: OpenPage, tmp_path: Path
) -> None:
    cohort = factories.make_cohort()
    organiser, coach = factories.make_user("Mara Organiser"), factories.make_user("Ines Coach")
    factories.join(organiser, cohort, Role.ORGANISER)
    factories.join(coach, cohort, Role.COACH)
    cohort.camp.starts_on, cohort.camp.ends_on = timezone.localdate(), timezone.localdate()
    cohort.camp.save()
    link = f"/account/join/{token_of(invite(cohort, by=organiser, now=timezone.now()))}/"

    child_page = open_page(None, link, size=PHONE)
    join_as_a_minor(child_page)
    answer_the_intake(child_page)
    child_page.goto("/my/new/")
    expect(child_page.get_by_role("heading", level=1)).to_have_text("My guardians")

    letter = mail.outbox[-1]
    assert letter.to == ["parent.reed@example.org"]
    path = re.search(r"/guardian/invitation/\S+", letter.body)
    assert path is not None
    parent_page = open_page(None, path[0])
    expect(parent_page.get_by_role("heading", level=1)).to_have_text("Mika Reed named you as a guardian")
    good(parent_page)
    parent_page.get_by_label("Your name").fill("Pat Reed")
    parent_page.get_by_label("A password").fill(PASSWORD)
    parent_page.get_by_label("I am 18 or older").check()
    parent_page.get_by_label("I am the parent or guardian").check()
    parent_page.get_by_role("button", name="Make my account and go on").click()
    expect(parent_page.get_by_role("heading", level=1)).to_have_text("Mika Reed")
    good(parent_page)
    decide(parent_page, "Storing and measuring", "Yes, I agree")
    decide(parent_page, "Coaches and organisers", "Yes, I agree")
    decide(parent_page, "Showing a swing", "No")
    parent_page.get_by_role("button", name="Save what I decided").click()
    expect(parent_page.locator(".consent .tag.good")).to_have_count(2)

    begin_a_submission(child_page)
    choose(child_page, film(tmp_path / "one.mp4"))
    upload(child_page)
    expect(child_page.locator("[data-clip]")).to_have_count(1)

    child = User.objects.get(email="mika.reed@example.org")
    thread = thread_for(child, cohort.camp, now=timezone.now())
    post_message(thread, by=coach, text="Welcome, Mika", now=timezone.now())
    parent_page.reload()
    parent_page.get_by_role("link", name="Read the talk").click()
    expect(parent_page.get_by_text("Welcome, Mika")).to_be_visible()
    good(parent_page)
    parent_page.get_by_role("link", name="Mika Reed").click()
    parent_page.get_by_role("link", name="Videos, and who watched them").click()
    expect(parent_page.get_by_text("The film is deleted on").last).to_be_visible()
    good(parent_page)
    parent_page.get_by_role("link", name="Mika Reed").click()
    decide(parent_page, "Storing and measuring", "No")
    parent_page.get_by_role("button", name="Save what I decided").click()
    expect(parent_page.locator(".consent .tag.good")).to_have_count(1)

    # The page still stands open on the child's phone: the door itself refuses.
    begun = Upload.objects.count()
    choose(child_page, film(tmp_path / "two.mp4", seconds=1.6))
    upload(child_page)
    expect(child_page.get_by_text("A guardian has to agree first").first).to_be_visible()
    assert Upload.objects.count() == begun
    child_page.goto("/my/")
    expect(child_page.get_by_text("A guardian has to agree first").first).to_be_visible()
    good(child_page)
    assert Guardianship.objects.get(child=child).state == "active"
