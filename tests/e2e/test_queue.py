from __future__ import annotations

import os
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from coachhub.camps.models import Membership
from coachhub.feedback.models import Review, Thread
from tests.e2e.axe import serious_findings
from tests.e2e.coach_scene import make_queue
from tests.e2e.conftest import DESKTOP, PHONE, OpenPage

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]
PICTURES = os.environ.get("COACHHUB_PICTURES", "")


def picture(page: Page, name: str) -> None:
    if PICTURES:
        page.screenshot(path=f"{PICTURES}/{name}.png", full_page=True)


def students(page: Page) -> list[str]:
    return page.locator(".work h2").all_inner_texts()


def focused(page: Page) -> str:
    return str(page.evaluate("document.activeElement.querySelector('h2')?.innerText ?? ''"))


def test_keys_move_open_and_can_be_switched_off(open_page: OpenPage) -> None:
    cast, _ = make_queue()
    page = open_page(cast.coach, reverse("coach:queue"))
    listed = students(page)
    assert listed[:2] == ["Tariq Red", "Lena Overdue"]
    expect(page.get_by_role("heading", name="Keys in this list")).to_be_visible()
    page.locator(".work").first.focus()
    page.keyboard.press("ArrowDown")
    assert focused(page) == listed[1]
    page.keyboard.press("End")
    assert focused(page) == listed[-1]
    page.keyboard.press("ArrowDown")
    assert focused(page) == listed[-1]
    page.keyboard.press("Home")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("l")
    note = page.locator(".work").nth(1).get_by_label("Note, for staff only")
    expect(note).to_be_visible()
    # Letters typed into a field stay letters.
    note.press_sequentially("all l")
    assert note.input_value() == "all l"

    page.get_by_label("Use keys while the list has the focus").uncheck()
    page.reload()
    expect(page.get_by_label("Use keys while the list has the focus")).not_to_be_checked()
    assert page.locator(".work").first.get_attribute("tabindex") is None
    page.get_by_label("Use keys while the list has the focus").check()
    page.locator(".work").nth(0).focus()
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: not url.endswith(reverse("coach:queue")))
    taken = Review.objects.get(has_red_flag=True)
    assert taken.claimed_by == cast.coach
    assert str(taken.public_id) in page.url


def test_putting_off_and_handing_over_by_hand(open_page: OpenPage) -> None:
    cast, second = make_queue()
    page = open_page(cast.coach, reverse("coach:queue"))
    left = int(page.locator(".left strong").inner_text())
    row = page.locator(".work").filter(has_text="Cora Mate")
    row.get_by_text("Later, or somebody else").click()
    row.get_by_label("Put off").select_option("tomorrow")
    row.get_by_role("button", name="Put off").click()
    expect(page.get_by_role("status").first).to_contain_text("Put off until")
    assert int(page.locator(".left strong").inner_text()) == left - 1
    row = page.locator(".work").filter(has_text="overdue by")
    row.get_by_text("Later, or somebody else").click()
    row.get_by_label("Hand over to").select_option(label="Bo Second")
    row.get_by_label("Note, for staff only").fill("She knows you.")
    row.get_by_role("button", name="Hand over").click()
    expect(page.get_by_role("status").first).to_contain_text("Bo Second has it now")
    assert Review.objects.filter(claimed_by=second, private_note__contains="She knows you.").exists()


@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_the_coachs_pages_are_accessible_and_fit(open_page: OpenPage, size: Any) -> None:
    cast, _ = make_queue()
    place = Membership.objects.get(user=cast.student)
    flagged = Membership.objects.get(user__name="Tariq Red")
    addresses = {
        "queue": reverse("coach:queue"),
        "queue-grouped": reverse("coach:queue", query={"group": "student"}),
        "queue-others": reverse("coach:queue", query={"pile": "others"}),
        "queue-none": reverse("coach:queue", query={"club": "driver"}),
        "student": reverse("coach:student", args=[place.public_id]),
        "student-red-flag": reverse("coach:student", args=[flagged.public_id]),
        "thread": reverse("coach:thread", args=[Thread.objects.get().public_id]),
    }
    for name, address in addresses.items():
        page = open_page(cast.coach, address, size=size)
        for more in page.locator("details.more").all()[:1]:
            more.locator("summary").click()
        assert serious_findings(page) == [], name
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, f"{name} is {wide} px wider than the screen"
        picture(page, f"{name}-{size['width']}")


def test_the_queue_works_without_script(open_page: OpenPage) -> None:
    cast, _ = make_queue()
    page = open_page(cast.coach, reverse("coach:queue"), java_script_enabled=False)
    expect(page.get_by_text("Keys in this list")).not_to_be_visible()
    page.locator(".work").nth(1).get_by_role("button", name="Review").click()
    assert Review.objects.get(private_note__contains="grip").claimed_by == cast.coach
