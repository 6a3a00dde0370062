"""Before day one: the organiser makes the camp and invites; two students and a guardian come in, a third not yet."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from coachhub.accounts.domain.people import register
from coachhub.accounts.models import User
from tests.e2e.four_weeks.clock import DAY_ONE, LAST_DAY, ZONE
from tests.e2e.four_weeks.letters import letters_to, link_for
from tests.e2e.four_weeks.people import Camp
from tests.e2e.four_weeks.visitor import PASSWORD, Visitor

CAMP, COHORT = "Curlew Sands", "Dunes"
HELLO = "Film the way you always swing, and don't try to please me."
PURPOSES = {
    "analysis": re.compile("Storing and measuring"),
    "feedback": re.compile("Coaches and organisers"),
    "cohort": re.compile("Showing a swing"),
}
TASKS = (
    ("Three irons before we begin", "", True),
    ("Irons of the first week", "1", False),
    ("Irons of the second week", "2", False),
    ("Irons of the third week", "3", False),
    ("Last irons", "4", False),
)


def begin(camp: Camp) -> None:
    """The one account that no page can make: who runs a site may make camps."""
    email, name = camp.address("runa"), camp.name("runa")
    first = register(email, name=name, password=PASSWORD, time_zone=ZONE, now=camp.clock.now())
    User.objects.filter(pk=first.pk).update(may_make_camps=True)
    camp.at_a_desk("runa").sign_in()


def make_the_camp(runa: Visitor) -> None:
    runa.visit("/organiser/new/")
    runa.fill("Name of the camp", CAMP)
    runa.fill("First day", DAY_ONE.isoformat())
    runa.fill("Last day", DAY_ONE.replace(day=1).isoformat())
    runa.choose("Time zone of the camp", ZONE)
    runa.check("Sunday", group="Rest days")
    runa.press("Make the camp")
    # A slip is named beside its field, and what was filled in stays.
    runa.reads("The last day lies before the first.")
    runa.fill("Last day", LAST_DAY.isoformat())
    runa.press("Make the camp")
    runa.reads("7 September to 4 October 2026", "within 48 hours", "It has not begun.")
    runa.fill("Name of the cohort", COHORT)
    runa.press("Make it")
    runa.visit("/organiser/")
    runa.follow(CAMP)


def plan_the_weeks(runa: Visitor) -> None:
    runa.follow("Plan: tasks, who is late, who isn't in yet")
    for words, week, is_baseline in TASKS:
        runa.fill("The task", words)
        if week:
            runa.choose("In which week", week)
        else:
            runa.fill("Opens on", DAY_ONE.replace(day=1).isoformat())
            runa.fill("Due on", DAY_ONE.replace(day=6).isoformat())
        runa.choose("Club", "iron")
        runa.page.get_by_label("down-the-line").uncheck()
        runa.fill("Swings from each view", "1")
        if is_baseline:
            runa.page.get_by_label("This is the baseline").check()
        runa.press("Make the task")
        expect(runa.page.get_by_role("rowheader", name=words)).to_be_visible()


def invite_coaches(camp: Camp) -> None:
    runa = camp["runa"]
    runa.visit("/organiser/")
    runa.follow(CAMP)
    runa.follow(COHORT)
    for role in ("otto", "marisol"):
        form = runa.page.locator("form[action$='/invite/']")
        runa.check("coach", within=form)
        runa.fill("E-mail address", camp.address(role), within=form)
        runa.fill("Name", camp.name(role), within=form)
        runa.press("Invite", within=form)
        runa.reads(camp.address(role))


def invite_students_by_list(camp: Camp) -> None:
    runa, students = camp["runa"], ("hedda", "jory", "basil")
    runa.follow("Load a list (CSV)")
    lines = [f"{camp.name(role)};{camp.address(role)}" for role in students]
    lines.insert(1, "Ivo Nowhere;ivo at nowhere")
    runa.fill("Or paste the lines here", "\n".join(lines))
    runa.press("Look at the list")
    bad = runa.page.get_by_role("region", name="Lines not understood")
    expect(bad.get_by_role("row")).to_have_count(2)
    expect(bad).to_contain_text("ivo at nowhere")
    runa.press(f"Send {len(students)} invitations")
    for role in students:
        runa.reads(camp.address(role))
        assert len(letters_to(camp.address(role))) == 1


def come_in(visitor: Visitor) -> None:
    """By the letter's link to an own account, as a grown-up."""
    visitor.page.goto(link_for(visitor.email, "/account/join/"))
    visitor.looked()
    visitor.fill("Your name", visitor.name)
    visitor.choose("Your time zone", ZONE)
    visitor.fill("A password", PASSWORD)
    visitor.check("I am 18 or older")
    visitor.press("Make my account and join")


def come_in_as_a_minor(visitor: Visitor, *, month: str, year: str) -> None:
    visitor.page.goto(link_for(visitor.email, "/account/join/"))
    visitor.looked()
    visitor.fill("Your name", visitor.name)
    visitor.choose("Your time zone", ZONE)
    visitor.fill("A password", PASSWORD)
    visitor.check("I am under 18")
    visitor.choose("Month of birth", month)
    visitor.fill("Year of birth", year)
    visitor.press("Make my account and join")


def answer_the_questions(visitor: Visitor, *, hand: str, age: str = "") -> None:
    expect(visitor.page.get_by_role("heading", level=1)).to_have_text("Before your first swing")
    if age:
        visitor.check(age)
    visitor.check(hand)
    visitor.check("handicap 10 to 20")
    visitor.check("help the ball up into the air")
    visitor.check("no pain")
    visitor.fill("What do you want from this camp?", "Irons that fly")


def agree_oneself(visitor: Visitor, *, to_be_shown: bool) -> None:
    visitor.check("I agree that my videos are stored and measured by a computer.")
    visitor.check("I agree that my camp's coaches and organiser see my videos and these answers.")
    if to_be_shown:
        visitor.check("A coach may show my swing to my cohort as an example (you can say no).")
    visitor.press("Save my answers")
    expect(visitor.page.get_by_role("link", name="Send new swings")).to_be_visible()


def name_a_guardian(child: Visitor, guardian_email: str) -> None:
    child.fill("E-mail address of a parent or guardian", guardian_email)
    child.press("Save my answers")
    child.reads("Not yet:", guardian_email)
    # Nothing can be sent before the guardian's word.
    child.visit("/my/new/")
    expect(child.page.get_by_role("heading", level=1)).to_have_text("My guardians")


def become_guardian(guardian: Visitor, child: Visitor) -> None:
    guardian.page.goto(link_for(guardian.email, "/guardian/invitation/"))
    guardian.looked()
    expect(guardian.page.get_by_role("heading", level=1)).to_have_text(
        f"{child.name} named you as a guardian"
    )
    guardian.fill("Your name", guardian.name)
    guardian.choose("Your time zone", ZONE)
    guardian.fill("A password", PASSWORD)
    guardian.check("I am 18 or older")
    guardian.page.get_by_label("I am the parent or guardian").check()
    guardian.press("Make my account and go on")


def decide(guardian: Visitor, **decisions: str) -> None:
    """``analysis="Yes, I agree"``: point by point, on the child's page."""
    for purpose, word in decisions.items():
        guardian.check(word, group=PURPOSES[purpose])
    guardian.press("Save what I decided")


def say_hello(coach: Visitor) -> None:
    coach.visit("/coach/")
    coach.follow("Plan")
    coach.fill("Your hello", HELLO)
    coach.press("Save")
    expect(coach.page.get_by_label("Your hello")).to_have_value(HELLO)


def bring_everybody_in(camp: Camp) -> None:
    """The second coach first, so that whoever joins later finds both."""
    for role in ("otto", "marisol"):
        come_in(camp.at_a_desk(role))
        camp[role].reads("Waiting swings", "Nothing waits for you.")
    say_hello(camp["otto"])
    hedda = camp.on_the_phone("hedda")
    come_in(hedda)
    answer_the_questions(hedda, hand="right-handed", age="40 to 59")
    agree_oneself(hedda, to_be_shown=True)
    jory = camp.on_the_phone("jory")
    come_in_as_a_minor(jory, month="March", year="2013")
    answer_the_questions(jory, hand="left-handed")
    name_a_guardian(jory, camp.address("wren"))
    become_guardian(camp.on_the_phone("wren"), jory)
    decide(camp["wren"], analysis="Yes, I agree", feedback="Yes, I agree", cohort="Yes, I agree")
    camp["wren"].reads("Saved. It holds from now on.")
    jory.visit("/my/")
    expect(jory.page.get_by_role("link", name="Send new swings")).to_be_visible()


def see_who_is_missing(camp: Camp) -> None:
    runa = camp["runa"]
    runa.visit("/organiser/")
    runa.follow(CAMP)
    runa.follow("Plan: tasks, who is late, who isn't in yet")
    runa.reads("Invited, and not in yet", camp.name("basil"))
    row = runa.page.get_by_role("row", name=camp.name("hedda"))
    expect(row.get_by_role("cell").nth(2)).to_have_text("yes")
    # Jory has tried nothing yet, and the site says so to Jory by itself.
    row = runa.page.get_by_role("row", name=camp.name("jory"))
    expect(row.get_by_role("cell").nth(2)).to_have_text("not yet")
