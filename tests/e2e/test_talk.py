"""A talk-through in a real browser: sound and deeds stay together from the microphone to the student's page."""

from __future__ import annotations

import json
import os
import re
import statistics
import wave
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from django.core.files.storage import default_storage
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect

from analysis.adapters.audio import read_audio
from analysis.adapters.talkline import TalkReader, place_at
from coachhub.bootstrap import debian
from coachhub.feedback.domain.reviews import publish_review, save_draft
from coachhub.feedback.models import TalkFilm, TalkThrough
from coachhub.swings.models import Readout
from tests.e2e.axe import serious_findings
from tests.e2e.clips import READ_NUMBER
from tests.e2e.conftest import BROWSER_OPTIONS, PHONE, OpenPage
from tests.e2e.desk_scene import DeskScene, at_the_desk, make_desk_scene
from tests.factories import NOW

pytestmark = [
    pytest.mark.e2e,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("work_at_once"),
]

# The whole measurement over three minutes takes as long; a quarter of a minute says the same about the method.
SECONDS = float(os.environ.get("TALK_SECONDS", "14"))
RATE_HZ = 48_000
CLICK_EVERY_S = 1.0
MOST_P95_MS = 40.0

# A sound device that is kept waiting loses a piece, and its clock runs on behind the page's by as much.
STUMBLE_MS = 20.0
TRIES = 3

# Notes a deed at each click of the microphone, at the moment at which the page hears it; and watches the clock of every
# sound that the page opens: how far its distance to the page's clock, the least of a second's readings, has moved.
HEAR_CLICKS = """async () => {
  const section = document.querySelector("[data-player]");
  const watched = [];
  const watch = (context) => {
    const seen = { lately: [], least: Infinity, moved: 0 };
    watched.push(seen);
    setInterval(() => {
      if (context.state !== "running") return;
      seen.lately.push([performance.now(), performance.now() - context.currentTime * 1000]);
      while (seen.lately[0][0] < performance.now() - 1000) seen.lately.shift();
      const now = Math.min(...seen.lately.map((reading) => reading[1]));
      seen.least = Math.min(seen.least, now);
      if (seen.lately.length > 20) seen.moved = Math.max(seen.moved, now - seen.least);
    }, 8);
  };
  window.soundClocksMovedMs = () => Math.max(...watched.map((seen) => seen.moved));
  window.AudioContext = class extends AudioContext {
    constructor(options) { super(options); watch(this); }
  };
  const stream = await navigator.mediaDevices.getUserMedia(
    { audio: { channelCount: 1, echoCancellation: true, noiseSuppression: true } });
  const context = new AudioContext({ latencyHint: "interactive" });
  await context.resume();
  const analyser = context.createAnalyser();
  analyser.fftSize = 4096;
  context.createMediaStreamSource(stream).connect(analyser);
  const samples = new Float32Array(analyser.fftSize);
  let readings = [], last = -1, on = true;
  setInterval(() => {
    const now = context.currentTime;
    const at_ms = performance.now();
    readings = [...readings.filter((reading) => reading[0] > at_ms - 1000), [at_ms, at_ms - now * 1000]];
    const apart = Math.min(...readings.map((reading) => reading[1]));
    analyser.getFloatTimeDomainData(samples);
    const at = samples.findIndex((x) => Math.abs(x) > 0.2);
    const heard = now - (samples.length - at) / context.sampleRate;
    if (at < 0 || heard < last + 0.5) return;
    last = heard;
    on = !on;
    const detail = { kind: "switch", name: "body", on, at_ms: heard * 1000 + apart };
    section.dispatchEvent(new CustomEvent("player:deed", { detail, bubbles: true }));
  }, 8);
}"""


@pytest.fixture(scope="module")
def clicks(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the microphone hears: a click a second in a whole number of seconds, over and over."""
    sound = np.zeros(8 * RATE_HZ)
    for start in range(RATE_HZ // 2, sound.size, round(CLICK_EVERY_S * RATE_HZ)):
        t = np.arange(480) / RATE_HZ
        sound[start : start + 480] = 0.9 * np.sin(2 * np.pi * 700 * t) * np.hanning(480) ** 0.25
    path = tmp_path_factory.mktemp("sound") / "clicks.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE_HZ, sound.size, "NONE", ""))
        file.writeframes((sound * 32767).astype("<i2").tobytes())
    return path


@pytest.fixture(scope="module")
def browser(browser: Browser, clicks: Path) -> Iterator[Browser]:
    heard = f"--use-file-for-fake-audio-capture={clicks}"
    started = browser.browser_type.launch(
        executable_path=debian.find_program("chromium"), args=[*BROWSER_OPTIONS, heard]
    )
    yield started
    started.close()


def press(page: Page, name: str) -> None:
    page.locator(f"[data-part=talk-{name}]").click()


def recording(page: Page) -> None:
    press(page, "record")
    expect(page.locator("[data-part=talk-state]")).to_contain_text("Recording")


def kept(page: Page) -> TalkThrough:
    press(page, "done")
    expect(page.locator("[data-part=talk-state]")).to_contain_text("Kept")
    return TalkThrough.objects.latest("pk")


def clicks_in(talk: TalkThrough, folder: Path) -> np.ndarray:
    """When a click begins in the sound that the student hears, in milliseconds."""
    path = folder / "talk.m4a"
    with default_storage.open(talk.audio_key) as stored:
        path.write_bytes(stored.read())
    audio = read_audio(path, RATE_HZ)
    assert audio is not None
    loud = np.flatnonzero(np.abs(audio.samples) > 0.2)
    first = loud[np.diff(loud, prepend=-RATE_HZ) > 0.4 * RATE_HZ]
    return first / RATE_HZ * 1000


@dataclass(frozen=True, slots=True)
class Together:
    """What one talk showed: a deed's time less that of its sound, of each click and when; how many had no sound."""

    away_ms: list[float]
    at_ms: list[float]
    alone: int
    clocks_moved_ms: float
    talk: TalkThrough

    @property
    def p95_ms(self) -> float:
        return float(np.percentile(np.abs(self.away_ms), 95))

    @property
    def drift_ms(self) -> float:
        """How the difference grows with time, in milliseconds a minute."""
        return float(np.polyfit(np.divide(self.at_ms, 60_000), self.away_ms, 1)[0])

    def __str__(self) -> str:
        talk, away = self.talk, self.away_ms
        return (
            f"\ntalk of {talk.duration_ms / 1000:.0f} s in {len(talk.script['cuts'])} parts, {len(away)} clicks: "
            f"deed against sound p50 {statistics.median(away):.0f} ms, p95 of the size {self.p95_ms:.0f} ms, worst "
            f"{max(map(abs, away)):.0f} ms, drift {self.drift_ms:.1f} ms/min; "
            f"{len(json.dumps(talk.script)) / 1024:.0f} kB of deeds; zeros {talk.timeline['zeros']}; "
            f"the sound's clocks moved by {self.clocks_moved_ms:.0f} ms"
        )


def talk_over(page: Page, folder: Path) -> Together:
    """In three takes, with a pause and with the last five seconds said again."""
    page.evaluate(HEAR_CLICKS)
    recording(page)
    page.wait_for_timeout(SECONDS * 400)
    press(page, "pause")
    page.wait_for_timeout(700)
    recording(page)
    page.wait_for_timeout(SECONDS * 400 + 2_500)
    press(page, "pause")
    press(page, "back-5")
    expect(page.locator("[data-part=talk-state]")).to_contain_text("Taken back")
    recording(page)
    page.wait_for_timeout(SECONDS * 200 + 2_500)
    moved = float(page.evaluate("window.soundClocksMovedMs()"))
    talk = kept(page)

    heard = clicks_in(talk, folder)
    begins = {event["ms"] for event in talk.timeline["events"] if event["kind"] == "clear"}
    noted = [e["ms"] for e in talk.timeline["events"] if e["kind"] == "layers" and e["ms"] not in begins]
    # A click at the very edge of a part may be on one side only.
    pairs = [(ms, heard[np.argmin(np.abs(heard - ms))]) for ms in noted]
    both = [(ms, float(ms - at)) for ms, at in pairs if abs(ms - at) < 400]
    return Together([away for _, away in both], [ms for ms, _ in both], len(noted) - len(both), moved, talk)


@pytest.mark.bench
def test_deeds_and_sound_stay_together(
    open_page: OpenPage, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Missed while the machine kept the sound waiting, it is talked again; the third talk counts whatever happened."""
    scene = make_desk_scene()
    for _ in range(TRIES):
        page = at_the_desk(open_page, scene)
        found = talk_over(page, tmp_path)
        page.close()
        with capsys.disabled():
            print(found)
        if found.p95_ms <= MOST_P95_MS or found.clocks_moved_ms < STUMBLE_MS:
            break
    assert len(found.away_ms) >= SECONDS * 0.6
    assert found.alone <= 3
    # A busy browser may swallow the sweeps of a take; the other takes then stand in for it.
    assert any(zero is not None for zero in found.talk.timeline["zeros"].values())
    assert found.p95_ms <= MOST_P95_MS
    # Over a quarter of a minute one click more or less late looks like drift; three minutes tell.
    if SECONDS >= 120:
        assert abs(found.drift_ms) <= 5


@pytest.mark.bench
def test_the_student_sees_what_the_coach_did(open_page: OpenPage, capsys: pytest.CaptureFixture[str]) -> None:
    """Step, play slowly, draw, another swing; then the answer, on a phone, sampled while the voice runs."""
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    recording(page)
    page.locator("[data-part=play]").click()
    page.wait_for_timeout(1800)
    page.locator("[data-part=play]").click()
    page.locator("[data-tool=line]").focus()
    page.keyboard.press("Enter")
    page.wait_for_timeout(600)
    page.locator("[data-swing-choice]").nth(1).click()
    page.wait_for_timeout(900)
    talk = kept(page)
    heard_at_the_desk(page)
    assert serious_findings(page) == []
    page.locator("[data-talk-form] textarea").fill("See how the shaft comes down.")
    page.locator("[data-talk-form] button[value=caption]").click()
    expect(page.locator("[data-part=talk-state]")).to_have_text("Words kept.")
    expect(page.locator("[data-part=saved]")).to_have_text(re.compile(r"^Saved \d"))
    page.close()

    # What is corrected after the recording changes nothing of it.
    spoken_of = measured_again(scene, top_s=1.0)
    scene.review.refresh_from_db()
    save_draft(scene.review, {"priority": "Lead"}, revision=scene.review.revision, by=scene.coach, now=NOW)
    publish_review(scene.review, by=scene.coach, now=NOW)

    phone = open_page(scene.student, reverse("student:answer", args=[scene.review.public_id]), size=PHONE)
    expect(phone.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    pinned = phone.evaluate("JSON.parse(document.querySelector('[data-talk] script').textContent)")
    told = pinned["swings"][str(scene.swing.public_id)]["events"]
    assert next(e["t_us"] for e in told if e["name"] == "top") == round(
        spoken_of.data["events"]["top"]["t"] * 1e6
    )
    for faster in (False, True):
        looks = sampled(phone, talk)
        reader = TalkReader(talk.timeline["events"])
        off = sorted(_away_ms(reader, scene, talk, *look) for look in looks)
        with capsys.disabled():
            print(
                f"\nreplay on a phone{' at 1.5' if faster else ''}: {len(off)} looks, picture against voice "
                f"p50 {statistics.median(off):.0f} ms, p95 {off[int(0.95 * len(off))]:.0f} ms, worst {off[-1]:.0f} ms"
            )
        assert len(off) >= 8 - 3 * faster
        assert statistics.median(off) <= MOST_P95_MS
        if not faster:
            phone.get_by_role("button", name="1.5 times as fast").click()
            assert sound_of(phone, "playbackRate") == 1.5
    expect(phone.locator("[data-part=talk-caption]")).to_contain_text("See how")
    phone.get_by_role("button", name="Back 10 s").click()
    assert sound_of(phone, "currentTime") < 0.5
    phone.get_by_role("button", name="On 10 s").click()
    assert sound_of(phone, "currentTime") == pytest.approx(talk.duration_ms / 1000, abs=0.2)
    assert serious_findings(phone) == []


def sound_of(phone: Page, what: str) -> float:
    number: float = phone.evaluate(f"document.querySelector('[data-part=talk-sound]').{what}")
    return number


def sampled(phone: Page, talk: TalkThrough) -> list[tuple[float, int, float]]:
    """The voice's clock in milliseconds, the frame on screen, and the clock again, until the voice ends.

    Read in the page itself: asking it from outside takes as long as the machine is busy.
    """
    looks = phone.evaluate(
        f"""async until_ms => {{
          const read = {READ_NUMBER};
          const sound = document.querySelector("[data-part=talk-sound]");
          const player = document.querySelector("[data-player]");
          const looks = [];
          await sound.play();
          for (let turn = 0; turn < 200 && !sound.ended; turn += 1) {{
            const at = sound.currentTime * 1000;
            const number = read(player);
            const after = sound.currentTime * 1000;
            looks.push([at, number, after]);
            if (after >= until_ms) break;
            await new Promise(later => setTimeout(later, 60));
          }}
          return looks;
        }}""",
        talk.duration_ms - 60,
    )
    return [(at, number, after) for at, number, after in looks]


def heard_at_the_desk(page: Page) -> None:
    """Before anything is published the coach can listen, and the picture goes along."""
    page.get_by_role("button", name="Clip 1").first.click()
    page.evaluate("document.querySelector('[data-part=talk-list] audio').play()")
    expect(page.locator("[data-part=now]")).not_to_have_text(re.compile("^Frame 13 "))
    page.evaluate("document.querySelector('[data-part=talk-list] audio').pause()")


def measured_again(scene: DeskScene, *, top_s: float) -> Readout:
    """A later readout with another top; returns the one before."""
    before = Readout.objects.get(swing=scene.swing, is_current=True)
    Readout.objects.filter(pk=before.pk).update(is_current=False)
    events = before.data["events"] | {"top": {"t": top_s, "se": 0.008}}
    Readout.objects.create(
        swing=scene.swing,
        run=before.run,
        revision=before.revision + 1,
        data=before.data | {"events": events},
        created_at=NOW,
    )
    return before


def _away_ms(
    reader: TalkReader, scene: DeskScene, talk: TalkThrough, at: float, number: int, after: float
) -> float:
    """How far the shown picture is from any that the voice asked for between the two readings of its clock."""
    best = float("inf")
    for ms in np.arange(at - 200, after + 1, 4.0):
        place = place_at(reader.at(max(0.0, ms)), max(0.0, ms))
        if place is None:
            continue
        # Times are whole microseconds: the frame that begins at 83,333.3 is noted as 83,333.
        shown = int(place["us"] * 60 / 1e6 + 1e-3)
        if shown == number:
            best = min(best, max(0.0, at - ms))
    return best


def test_a_closed_tab_loses_no_talk_and_a_lost_network_is_waited_out(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    recording(page)
    page.wait_for_timeout(3_300)
    # No farewell: as if the browser had died.
    context = page.context
    page.close(run_before_unload=False)
    page = context.new_page()
    page.goto(scene.path)
    expect(page.locator("[data-part=talk-state]")).to_contain_text("lies on this device")
    context.set_offline(True)
    press(page, "done")
    expect(page.locator("[data-part=talk-state]")).to_contain_text("No connection")
    assert not TalkThrough.objects.exists()
    context.set_offline(False)
    expect(page.locator("[data-part=talk-state]")).to_contain_text("Kept")
    talk = TalkThrough.objects.get()
    assert talk.duration_ms >= 2_000
    page.reload()
    expect(page.locator("[data-part=talk-state]")).not_to_contain_text("lies on this device")


def test_a_talk_becomes_a_film_for_coach_and_student(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    recording(page)
    page.wait_for_timeout(1_500)
    kept(page)
    page.locator("[data-talk-form] button[value=film]").click()
    expect(page.get_by_role("link", name=re.compile("Download the film"))).to_be_visible()
    film = TalkFilm.objects.get()
    with page.expect_download() as coming:
        page.get_by_role("link", name=re.compile("Download the film")).click()
    assert Path(coming.value.path()).stat().st_size == film.size


def test_no_microphone_leaves_a_way_on(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = open_page(scene.coach, "/")
    page.add_init_script(
        "navigator.mediaDevices.getUserMedia = async () => "
        "{ throw new DOMException('no', 'NotAllowedError'); };"
    )
    page.goto(scene.path)
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    press(page, "record")
    expect(page.locator("[data-part=talk-state]")).to_contain_text("or write, and mark moments instead")
    expect(page.locator("[data-part=talk-record]")).to_be_enabled()
