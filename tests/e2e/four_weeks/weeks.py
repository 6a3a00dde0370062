"""Until the second week: what each sends, what comes back, what is practised, and who gets to know of it."""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import expect

from tests.e2e.four_weeks import desk
from tests.e2e.four_weeks import range as at_range
from tests.e2e.four_weeks.before import CAMP, COHORT, come_in
from tests.e2e.four_weeks.desk import Answer
from tests.e2e.four_weeks.letters import letters_to
from tests.e2e.four_weeks.people import Camp

FAT = ("fat: ground before ball", "starts left")
LIFT = "help the ball up into the air"
HEDDA_FIRST = Answer(
    keep="How quietly you stand over the ball.",
    priority="Let the club meet the turf past the ball",
    cue="brush the far side",
    drill="Turf past the line",
    dose="3 times 8 slow swings",
)
HEDDA_SECOND = Answer(
    keep="The turf is where it should be now and then.",
    priority="Let the club meet the turf past the ball",
    cue="brush the far side",
    words="The same once more, with the ball.",
)
JORY_FIRST = Answer(
    keep="How far you turn.",
    priority="Stay over the lead foot to the end",
    cue="count to three at the end",
    drill="Finish and count",
    dose="2 times 5, half as fast",
)
TO_JORY = "No drill this week. Please show your back to a doctor before you swing on."
BASIL_FIRST = Answer(
    keep="That you said it.",
    priority="Have the wrist looked at before the next swing",
    cue="rest first",
    words="I can't tell what it is; a clinician can.",
)
HEDDA_LAST = Answer(
    keep="The turf past the ball.",
    priority="The same with the longer irons",
    cue="brush the far side",
    drill="Turf past the line",
    dose="2 times a week 10 swings",
)
QUESTION = "Where do you feel your weight at the end?"


def baseline(camp: Camp) -> None:
    """Before day one: one of them tries it out, and what is measured waits for a coach."""
    camp.clock.turn_to(-4, 17)
    at_range.send_swing(camp["hedda"], "fo_early", miss=FAT, intent=LIFT)
    camp["hedda"].visit("/my/plan/")
    camp["hedda"].reads("done")


def remind(camp: Camp) -> None:
    """Jory has a baseline to film: one letter, to the child and to the guardian, and none to who is done."""
    before = {role: len(letters_to(camp.address(role))) for role in ("hedda", "jory", "wren")}
    camp.clock.evening(-1)
    camp.clock.evening(-1)
    after = {role: len(letters_to(camp.address(role))) for role in before}
    assert after == before | {"jory": before["jory"] + 1, "wren": before["wren"] + 1}


def first_answer(camp: Camp) -> None:
    camp.clock.turn_to(1, 9)
    otto, hedda = camp["otto"], camp["hedda"]
    assert desk.queue(otto) == [hedda.name]
    before = len(letters_to(hedda.email))
    desk.take(otto, hedda.name)
    desk.agree(otto, "early release")
    desk.take_first_path(otto)
    desk.write(otto, HEDDA_FIRST)
    desk.publish(otto, hedda.name)
    assert len(letters_to(hedda.email)) == before + 1
    hedda.visit("/my/")
    hedda.follow("Read the answer")
    hedda.reads(HEDDA_FIRST.priority, HEDDA_FIRST.keep, f"Drill: {HEDDA_FIRST.drill}", HEDDA_FIRST.dose)
    hedda.fill("Your reply", "So it isn't about lifting it?")
    hedda.press("Send the reply")


def question_to_a_minor(camp: Camp) -> None:
    """The promise stands still while a question is open, and the guardian reads along."""
    camp.clock.turn_to(2, 10)
    jory, wren, otto = camp["jory"], camp["wren"], camp["otto"]
    at_range.send_swing(jory, "fo_left", miss=FAT)
    assert set(desk.queue(otto)) == {camp.name("hedda"), jory.name}
    told = len(letters_to(wren.email))
    desk.take(otto, jory.name)
    desk.ask_first(otto, QUESTION)
    assert jory.name not in desk.queue(otto)
    assert len(letters_to(wren.email)) > told
    wren.visit("/guardian/")
    wren.follow(jory.name)
    wren.follow(re.compile("^Read the talk with the coaches"), exact=False)
    wren.reads(QUESTION)
    jory.visit("/my/")
    jory.follow("Talk with your coach")
    jory.fill("In your own words", "On my heels, I think")
    jory.press("Answer")
    jory.reads("On my heels, I think")
    camp.clock.turn_to(3, 10)
    desk.take(otto, jory.name)
    desk.write(otto, JORY_FIRST)
    desk.publish(otto, jory.name)


def latecomer_in_pain(camp: Camp) -> None:
    """Whoever ticks a sign of danger is told to see a clinician, and gets no drill."""
    camp.clock.turn_to(3, 18)
    come_in(camp.on_the_phone("basil"))
    basil, otto = camp["basil"], camp["otto"]
    for answer in ("40 to 59", "right-handed", "handicap 10 to 20", LIFT, "pain now"):
        basil.check(answer)
    basil.check("wrist, hand or thumb")
    basil.check("wrist pain with clicking, or a sore spot at the base of the palm")
    basil.fill("What do you want from this camp?", "Play without thinking")
    basil.check("I agree that my videos are stored and measured by a computer.")
    basil.check("I agree that my camp's coaches and organiser see my videos and these answers.")
    basil.press("Save my answers")
    basil.reads("clinician")
    at_range.send_swing(basil, "fo_none", miss=FAT)
    assert desk.queue(otto)[0] == basil.name
    desk.take(otto, basil.name)
    expect(otto.page.get_by_text(re.compile("Pain alert")).first).to_be_visible()
    desk.write(otto, BASIL_FIRST)
    desk.publish(otto, basil.name)
    basil.visit("/my/")
    basil.reads("don't swing or practise before")
    basil.reads_nothing_of("Drill:")


def practice(camp: Camp) -> None:
    camp.clock.turn_to(4, 19)
    hedda = camp["hedda"]
    hedda.visit("/my/")
    hedda.unfold("I practised")
    hedda.press("40")
    hedda.reads("1 of 3 days this week")


def film_again(camp: Camp, folder: Path) -> None:
    """An empty range is nobody's swing: it is said why, and one new clip is all that is needed."""
    camp.clock.turn_to(9, 11)
    hedda, otto = camp["hedda"], camp["otto"]
    at_range.say_what_was_filmed(hedda, miss=FAT)
    at_range.add_clip(hedda, at_range.empty_range(folder / "range.mp4"), view="face-on")
    at_range.send(hedda)
    hedda.reads("Please film again")
    # What nobody can use is no work for a coach; the new clip is.
    assert desk.queue(otto).count(hedda.name) == 1
    told = len(letters_to(hedda.email))
    at_range.add_clip(hedda, at_range.clip("fo_early"), view="face-on", before=1)
    expect(hedda.page.locator(".turn")).to_contain_text("With your coach", timeout=at_range.ARRIVES_WITHIN_MS)
    assert len(letters_to(hedda.email)) == told
    assert desk.queue(otto).count(hedda.name) == 2


def a_drill_hurts(camp: Camp) -> None:
    """It stops the drill, goes to the head of the queue, and the guardian hears of it at once."""
    camp.clock.turn_to(10, 17)
    jory, wren, otto = camp["jory"], camp["wren"], camp["otto"]
    told = len(letters_to(wren.email))
    jory.visit("/my/")
    jory.unfold("This hurts")
    jory.fill("Where, and when? (may stay empty)", "low in the back, at the end")
    jory.press("Tell my coach that it hurts")
    jory.reads("Stopped: you said that this hurts.")
    assert len(letters_to(wren.email)) == told + 1
    assert desk.queue(otto)[0] == jory.name


def work_changes_hands(camp: Camp) -> None:
    """Otto begins an answer and is away; the organiser gives it to Marisol, who finds the draft and finishes it."""
    camp.clock.turn_to(11, 9)
    otto, marisol, runa, hedda = (camp[one] for one in ("otto", "marisol", "runa", "hedda"))
    desk.take(otto, hedda.name)
    desk.agree(otto, "early release")
    desk.write(otto, HEDDA_SECOND)
    runa.visit("/organiser/")
    runa.follow(CAMP)
    runa.follow(COHORT)
    runa.follow("Give a coach's reviews to another")
    runa.page.get_by_label("From").select_option(label=otto.name)
    runa.page.get_by_label("To").select_option(label=marisol.name)
    runa.press("Give them over")
    desk.take(marisol, hedda.name)
    expect(marisol.page.locator("[data-part=answer] [name=priority]")).to_have_value(HEDDA_SECOND.priority)
    desk.publish(marisol, hedda.name)
    hedda.visit("/my/")
    hedda.follow("Read the answer")
    hedda.reads(marisol.name, HEDDA_SECOND.words)


def pain_is_answered(camp: Camp) -> None:
    """In the talk, where the guardian reads it too; the drill stays stopped."""
    camp.clock.turn_to(11, 15)
    otto, jory, wren = camp["otto"], camp["jory"], camp["wren"]
    desk.read_reply(otto, jory.name)
    otto.reads("low in the back, at the end")
    otto.fill("Your message", TO_JORY)
    otto.press("Send")
    assert jory.name not in desk.queue(otto)
    for reader, start in ((jory, "/my/"), (wren, "/guardian/")):
        reader.visit(start)
        if reader is wren:
            reader.follow(jory.name)
        reader.follow(re.compile("^(Talk with your coach|Read the talk)"), exact=False)
        reader.reads(TO_JORY)
    jory.visit("/my/practice/")
    jory.reads("Stopped: you said that this hurts.")
