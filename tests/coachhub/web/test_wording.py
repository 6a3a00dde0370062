"""The site in another language: what people read is found by itself, and the catalogue has all of it."""

from __future__ import annotations

import gettext
import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.template import Context, Template, engines
from django.test import Client
from django.urls import reverse
from django.utils import translation

from coachhub.common import wording
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.templatetags.site import from_now
from coachhub.web.wording import catalogue, scripts
from coachhub.web.wording.collect import Message, collect, of_python, pattern_of
from coachhub.web.wording.runs import find_runs
from coachhub.web.wording.templates import speak
from tests import factories

pytestmark = [pytest.mark.unit]
ROOT = Path(settings.BASE_DIR)


def keys(source: str, plain: bool = False) -> list[str]:
    template = Template(source, engine=engines["django"].engine)  # type: ignore[attr-defined]
    return [run.key for run in speak(template, plain=plain)]


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("<p>Read it.</p><p>\n  Then   go.\n</p>", ["Read it.", "Then go."]),
        ("<p>Sent by {{ person.name }} on {{ day|date:'j F' }}.</p>", ["Sent by {name} on {day}."]),
        ("<p>See <a href=\"{% url 'home' %}\">the start</a> first.</p>", ["See <a>the start</a> first."]),
        ('<a class="b" href="/x">Go on</a>', ["Go on"]),
        ('<input aria-label="Name of {{ n }}" value="{{ v }}">', ["Name of {n}"]),
        ("<p>{{ a.name }} and {{ b.name }}</p>", ["{name} and {name2}"]),
        ("<p>{{ only }}</p><p>12 %</p><p>–</p><script>var text = 'no';</script><pre>a b</pre>", []),
        ("{% if x %}<p>Yes</p>{% else %}<p>No</p>{% endif %}", ["Yes", "No"]),
        ("<p>{% if x %}late{% else %}early{% endif %} by {{ n }} h</p>", ["late", "early", "{if} by {n} h"]),
        ('<details class="{% if x %}late{% endif %}"{% if x %} open{% endif %}>', []),
        ('<p aria-pressed="{% if x %}true{% else %}false{% endif %}">Go</p>', ["Go"]),
        ('<p {% if x %}aria-label="Open it"{% endif %}>1</p>', ["Open it"]),
        ('<p aria-label="{% if x %}Open it{% else %}Close it{% endif %}">1</p>', ["Open it", "Close it"]),
        ("{% block body_class %}desk-page{% endblock %}", []),
        ("{% comment %}<p>not this</p>{% endcomment %}<!-- nor this -->", []),
    ],
)
def test_runs_are_whole_sentences_with_gaps(source: str, found: list[str]) -> None:
    assert keys(source) == found


def test_a_letter_is_read_line_by_line() -> None:
    assert keys("Hello,\n\n{{ link }}\nwithin {{ hours }} hours\n", plain=True) == [
        "Hello,",
        "within {hours} hours",
    ]


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, str]]:
    """A small catalogue of this test's own."""
    said: dict[str, str] = {}

    class Fake:
        _catalog = said

    def said_so(key: str) -> str:
        return said.get(key, key) if translation.get_language() == "de" else key

    monkeypatch.setattr("coachhub.common.wording.gettext", said_so)
    monkeypatch.setattr("coachhub.web.wording.templates.gettext", said_so)
    monkeypatch.setattr("coachhub.common.wording.translation", lambda code: Fake)
    kept = (wording._said, wording._piece, wording.patterns)
    for each in kept:
        each.cache_clear()
    yield said
    for each in kept:
        each.cache_clear()


def printed(source: str, language: str, **values: object) -> str:
    template = Template(source, engine=engines["django"].engine)  # type: ignore[attr-defined]
    speak(template)
    with translation.override(language):
        return template.render(Context(values))


def test_words_may_change_their_order_and_elements_keep_their_attributes(german: dict[str, str]) -> None:
    german["Read <a>the answer</a> by {name}"] = "Von {name}: <a>die Antwort</a> lesen"
    source = '<p> Read <a class="x" href="/a/?b={{ n }}">the answer</a> by {{ name }} </p>'
    assert printed(source, "de", name="<Ines>", n=1.5) == (
        '<p> Von &lt;Ines&gt;: <a class="x" href="/a/?b=1.5">die Antwort</a> lesen </p>'
    )
    assert printed(source, "en", name="<Ines>", n=1.5) == (
        '<p> Read <a class="x" href="/a/?b=1.5">the answer</a> by &lt;Ines&gt; </p>'
    )


@pytest.mark.parametrize(("n", "said"), [(1, "1 Tag"), (2, "2 Tage"), (0, "0 Tage")])
def test_a_gap_may_choose_between_one_and_many(german: dict[str, str], n: int, said: str) -> None:
    german["{n} day{n2}"] = "{n} {n2:Tag|Tage}"
    assert printed("<p>{{ n }} day{{ n|pluralize }}</p>", "de", n=n) == f"<p>{said}</p>"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("Sent to 1 student, today.", "An 1 Person, today."),
        ("Sent to 3 students, today.", "An 3 Personen, today."),
    ],
)
def test_an_ending_in_a_sentence_put_together_may_be_empty(
    german: dict[str, str], words: str, said: str
) -> None:
    german["Sent to {n} student{s}, {day}."] = "An {n} {s:Person|Personen}, {day}."
    with translation.override("de"):
        assert wording.say(words) == said


def test_a_label_at_the_head_of_a_line_keeps_its_capital(german: dict[str, str]) -> None:
    german |= {"hips stop": "die Hüfte stoppt", "{label}: look again": "{label}: sieh noch einmal hin"}
    with translation.override("de"):
        assert wording.say("Hips stop") == "Die Hüfte stoppt"
        assert wording.say("Hips stop: look again") == "Die Hüfte stoppt: sieh noch einmal hin"


def test_numbers_get_a_comma_for_people_and_a_point_for_programs(german: dict[str, str]) -> None:
    german["Half"] = "Halb"
    said = printed('<p data-at="{{ n }}">Half</p><p data-b="{{ n }}">{{ n }}</p>', "de", n=0.5)
    assert said == '<p data-at="0.5">Halb</p><p data-b="0.5">0,5</p>'


def test_the_sites_own_words_are_looked_up_and_peoples_are_not(german: dict[str, str]) -> None:
    german |= {"early release": "frühes Lösen", "{label}: likely": "{label}: wahrscheinlich"}
    source = "<b>{{ sign.label }}</b>{{ note.text }}"
    said = printed(source, "de", sign={"label": "early release: likely"}, note={"text": "early release"})
    assert said == "<b>frühes Lösen: wahrscheinlich</b>early release"


def test_a_sentence_put_together_long_ago_is_said_by_its_pattern(german: dict[str, str]) -> None:
    german |= {
        "This is the same video as clip {number}.": "Das ist dasselbe Video wie Clip {number}.",
        "{name} is reviewing this one.": "{name} sieht sich das gerade an.",
    }
    with translation.override("de"):
        assert (
            RuleBroken("x", "This is the same video as clip 3.").sentence
            == "Das ist dasselbe Video wie Clip 3."
        )
        assert wording.say("Ines is reviewing this one.") == "Ines sieht sich das gerade an."
        assert wording.say("Something else entirely.") == "Something else entirely."
    assert (
        RuleBroken("x", "This is the same video as clip 3.").sentence == "This is the same video as clip 3."
    )


def test_a_place_in_a_list_is_a_gap_too(german: dict[str, str]) -> None:
    german["from {value} to {value2}"] = "von {value} bis {value2}"
    assert printed("<p>from {{ a.0 }} to {{ a.1 }}</p>", "de", a=(3, 5)) == "<p>von 3 bis 5</p>"


def test_labels_that_are_read_out_keep_their_place(german: dict[str, str]) -> None:
    """Before, behind and inside of a sentence, said or not."""
    german |= {"Step {n} on": "Einen weiter: {n}", "on": "weiter", "Read <a>it</a> now": "Jetzt <a>lesen</a>"}
    source = '<p><span>on</span><button aria-label="Step {{ n }} on">+1</button></p>'
    assert printed(source, "de", n=1) == (
        '<p><span>weiter</span><button aria-label="Einen weiter: 1">+1</button></p>'
    )
    inside = '<p>Read <a href="/{{ n }}" title="Step {{ n }} on">it</a> now</p>'
    assert printed(inside, "de", n=1) == '<p>Jetzt <a href="/1" title="Einen weiter: 1">lesen</a></p>'
    del german["Read <a>it</a> now"]
    assert printed(inside, "de", n=1) == '<p>Read <a href="/1" title="Einen weiter: 1">it</a> now</p>'


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("iron, face-on and down-the-line, 3 swings", "Eisen, von vorn und von hinten, 3 Schwünge"),
        ("hips stop. pull: left, no curve", "die Hüfte stoppt. Pull: links, keine Kurve"),
        ("hips stop → pull: left, no curve", "die Hüfte stoppt → Pull: links, keine Kurve"),
        ("hips stop, “people, and their words.”", "die Hüfte stoppt, “people, and their words.”"),
        ("hips stop (C/K)", "die Hüfte stoppt (C/K)"),
        ("hips stop. Tries: a thing of their own", "die Hüfte stoppt. Versucht: a thing of their own"),
        ("hips stop, a thing of their own", "hips stop, a thing of their own"),
        ("Changed by -31 deg (± 25 deg, 95 %)", "Verändert um −31° (± 25°, 95 %)"),
        ("hips stop 10.5 ± 5 % of stance", "die Hüfte stoppt 10,5 ± 5 % der Standbreite"),
        ("Hips, turned", "Hips, turned"),
        ("Over the Top", "Over the Top"),
    ],
)
def test_a_list_is_said_piece_by_piece_or_not_at_all(german: dict[str, str], words: str, said: str) -> None:
    german |= {
        "iron": "Eisen",
        "face-on": "von vorn",
        "down-the-line": "von hinten",
        "and": "und",
        "{n} swing{s}": "{n} {s:Schwung|Schwünge}",
        "hips stop": "die Hüfte stoppt",
        "pull: left, no curve": "Pull: links, keine Kurve",
        "Tries": "Versucht",
        "over {grades}": "über {grades}",
        "changed by {size} (± {margin}, 95 %)": "verändert um {size} (± {margin}, 95 %)",
        "% of stance": "% der Standbreite",
    }
    with translation.override("de"):
        assert wording.say(words) == said


def test_a_pattern_of_few_letters_fits_few_words(german: dict[str, str]) -> None:
    german |= {"From {day}": "Ab {day}", "the first day of all that there were": "der allererste Tag"}
    with translation.override("de"):
        assert wording.say("From 10 June 2026") == "Ab 10. Juni 2026"
        assert wording.say("From the first day of all that there were") == "Ab der allererste Tag"
        assert wording.say("From here only the heel shows it") == "From here only the heel shows it"


@pytest.mark.parametrize("path", ["case.title", "hello.words", "submission.intent_words", "note.text"])
def test_peoples_own_words_are_never_looked_up(german: dict[str, str], path: str) -> None:
    german["Sign in"] = "Anmelden"
    thing, name = path.split(".")
    assert printed(f"<p>{{{{ {path} }}}}</p>", "de", **{thing: {name: "Sign in"}}) == "<p>Sign in</p>"


@pytest.mark.parametrize(
    ("seconds", "ahead", "ago"),
    [
        (2 * 86400 + 3700, "noch 2 Tage 1 Stunde", "2 Tage 1 Stunde her"),
        (90, "noch 1 Minute", "1 Minute her"),
        (3 * 3600, "noch 3 Stunden", "3 Stunden her"),
    ],
)
def test_a_span_of_time_is_said_with_its_numbers(
    monkeypatch: pytest.MonkeyPatch, seconds: int, ahead: str, ago: str
) -> None:
    now = datetime(2026, 6, 10, tzinfo=UTC)
    monkeypatch.setattr("coachhub.web.templatetags.site.timezone.now", lambda: now)
    with translation.override("de"):
        assert from_now(now + timedelta(seconds=seconds)) == ahead
        assert from_now(now - timedelta(seconds=seconds)) == ago


def test_words_added_to_a_name_are_one_pattern(tmp_path: Path) -> None:
    place = tmp_path / "rules.py"
    place.write_text(
        'A = "a third of a stance: " + TRADE\nB = "one" + choose("Give it a name.")\n', encoding="utf-8"
    )
    assert [one.key for one in of_python(tmp_path, place)] == [
        "a third of a stance: {TRADE}",
        "Give it a name.",
    ]


def test_what_the_scripts_say_is_collected_from_their_source(tmp_path: Path) -> None:
    place = tmp_path / scripts.FOLDER / "core" / "a.js"
    place.parent.mkdir(parents=True)
    place.write_text(
        '// say("not this")\nthis.say("nor this");\nthis.say(say("Saved {time}", { time }));\n'
        'say(\n  "It\'s \\"here\\".");\n',
        encoding="utf-8",
    )
    assert [sentence for sentence, _ in scripts.spoken(tmp_path)] == ["Saved {time}", 'It\'s "here".']


def test_f_strings_become_patterns_with_named_gaps() -> None:
    import ast

    tree = ast.parse('f"Clip {clip.number} of {len(found)}: {clip.number} {other.number:.1f} s"', mode="eval")
    assert isinstance(tree.body, ast.JoinedStr)
    assert pattern_of(tree.body) == "Clip {number} of {found}: {number} {number2} s"


def test_marks_of_the_page_never_reach_the_reader() -> None:
    assert find_runs("<p>\ue000</p>", {0xE000: "x"}) == []
    assert not re.search("[\ue000-\uf8ff]", printed("<p>{{ a }} b {{ c }}</p>", "de", a=1, c=2))


def messages(*keys: str) -> list[Message]:
    return [Message(key, "", "somewhere") for key in keys]


def test_what_is_offered_is_complete_and_fits_its_messages() -> None:
    """Each offered language has a translation for every message of now, with its gaps and elements, compiled."""
    now = collect(ROOT)
    print(f"\n{len(now)} messages, {sum(len(one.key.split()) for one in now)} words")
    assert len(now) > 2000
    for code in dict(settings.LANGUAGES):
        if code != wording.SOURCE:
            place = catalogue.place_of(ROOT, code)
            held = catalogue.read(place, code)
            assert catalogue.missing(catalogue.renewed(held, now, code)) == [], (
                "run `manage.py words --missing FILE`"
            )
            assert list(catalogue.mismatched(held)) == []
            assert place.with_suffix(".mo").read_bytes() == catalogue.compiled(held), "run `manage.py words`"


def test_a_catalogue_keeps_what_holds_and_names_what_is_missing() -> None:
    old = catalogue.renewed(
        catalogue.Catalog(locale="de"), messages("Read it.", "Sent by {name}.", "Gone."), "de"
    )
    assert catalogue.take(
        old, {"Read it.": "Lies es.", "Sent by {name}.": "Von {naem}.", "Never asked": "x"}
    ) == ["Never asked"]
    assert list(catalogue.mismatched(old)) == [("Sent by {name}.", "Von {naem}.")]
    new = catalogue.renewed(old, messages("Read it.", "Sent by {name}.", "A new one."), "de")
    assert catalogue.missing(new) == ["A new one."]
    assert new.get("Read it.").string == "Lies es." and new.get("Gone.") is None


def test_a_written_catalogue_is_read_back_and_understood_by_the_standard_library(tmp_path: Path) -> None:
    """The compiled file is what the standard library's gettext reads (the GNU format)."""
    made = catalogue.renewed(catalogue.Catalog(locale="de"), messages("Read it."), "de")
    catalogue.take(made, {"Read it.": "Lies es."})
    place = tmp_path / "de" / "LC_MESSAGES" / "django.po"
    catalogue.write(place, made)
    assert catalogue.read(place, "de").get("Read it.").string == "Lies es."
    assert gettext.translation("django", str(tmp_path), ["de"]).gettext("Read it.") == "Lies es."


@pytest.mark.django_db
def test_a_person_chooses_and_the_browser_remembers(settings: Any) -> None:
    settings.LANGUAGES = [("en", "English"), ("de", "Deutsch")]
    person, client, door = factories.make_user(), Client(), reverse("account:sign-in")
    assert '<html lang="en">' in client.get(door).content.decode()
    client.post(reverse("account:language"), {"language": "de", "next": door})
    assert '<html lang="de">' in client.get(door).content.decode()
    other = Client(headers={"Accept-Language": "de-AT,de;q=0.9"})
    answer = other.get(door)
    assert '<html lang="de">' in answer.content.decode() and answer.headers["Content-Language"] == "de"
    client.force_login(person)
    client.post(reverse("account:language"), {"language": "en"})
    person.refresh_from_db()
    assert person.language == "en"
    assert client.post(reverse("account:language"), {"language": "xx"}).status_code == 400
    away = client.post(reverse("account:language"), {"language": "de", "next": "https://example.org/"})
    assert away.headers["Location"] == "/"


@pytest.mark.django_db
def test_a_language_ends_with_the_request(settings: Any) -> None:
    settings.LANGUAGES = [("en", "English"), ("de", "Deutsch")]
    Client(headers={"Accept-Language": "de"}).get(reverse("account:sign-in"))
    assert translation.get_language() == "en"


@pytest.mark.django_db
def test_the_scripts_get_their_words_by_an_address_that_may_be_kept(settings: Any) -> None:
    settings.LANGUAGES = [("en", "English"), ("de", "Deutsch")]
    door = reverse("account:sign-in")
    assert "/words/" not in Client().get(door).content.decode()
    page = Client(headers={"Accept-Language": "de"}).get(door).content.decode()
    address = scripts.address("de")
    assert f'<script src="{address}"></script>' in page and page.index(address) < page.index("</body>")
    answer = Client().get(address)
    assert (
        "immutable" in answer.headers["Cache-Control"]
        and "max-age=31536000" in answer.headers["Cache-Control"]
    )
    said = json.loads(answer.content.decode().removeprefix("globalThis.SITE_WORDS = ").rstrip(";\n"))
    assert said["language"] == "de" and said["said"]["Copied"] == "Kopiert"
    assert "no-cache" in Client().get(reverse("script-words", args=["de", "0"])).headers["Cache-Control"]
    assert Client().get(reverse("script-words", args=["xx", "0"])).status_code == 404


@pytest.mark.django_db
def test_a_phone_keeps_the_guide_in_its_readers_language(settings: Any) -> None:
    settings.LANGUAGES = [("en", "English"), ("de", "Deutsch")]
    english, german = Client(), Client(headers={"Accept-Language": "de"})
    worker = reverse("guide-worker")
    assert '"page": "/film/"' in english.get(worker).content.decode()
    said = german.get(worker).content.decode()
    assert '"page": "/film/?language=de"' in said and scripts.address("de") in said
    kept = english.get("/film/?language=de")
    assert '<html lang="de">' in kept.content.decode() and kept.headers["Content-Language"] == "de"
    assert english.get("/film/?language=xx").headers["Content-Language"] == "en"
