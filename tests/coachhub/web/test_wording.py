"""The site in another language: what people read is found by itself, and the catalogue has all of it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.template import Context, Template, engines
from django.test import Client
from django.urls import reverse
from django.utils import translation

from coachhub.common import wording
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.wording import catalogue
from coachhub.web.wording.collect import collect, pattern_of
from coachhub.web.wording.runs import find_runs
from coachhub.web.wording.templates import speak
from tests import factories
from tests.cast import make_cast

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

    def gettext(key: str) -> str:
        return said.get(key, key) if translation.get_language() == "de" else key

    monkeypatch.setattr("coachhub.common.wording.gettext", gettext)
    monkeypatch.setattr("coachhub.web.wording.templates.gettext", gettext)
    monkeypatch.setattr("coachhub.common.wording.translation", lambda code: Fake)
    wording._said.cache_clear(), wording.patterns.cache_clear()
    yield said
    wording._said.cache_clear(), wording.patterns.cache_clear()


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


def test_f_strings_become_patterns_with_named_gaps() -> None:
    import ast

    tree = ast.parse('f"Clip {clip.number} of {len(found)}: {clip.number} {other.number:.1f} s"', mode="eval")
    assert isinstance(tree.body, ast.JoinedStr)
    assert pattern_of(tree.body) == "Clip {number} of {found}: {number} {number2} s"


def test_marks_of_the_page_never_reach_the_reader() -> None:
    assert find_runs("<p>\ue000</p>", {0xE000: "x"}) == []
    assert not re.search("[\ue000-\uf8ff]", printed("<p>{{ a }} b {{ c }}</p>", "de", a=1, c=2))


@pytest.fixture(scope="module")
def german_catalogue() -> catalogue.Catalog:
    return catalogue.read(catalogue.place_of(ROOT, "de"), "de")


def test_every_message_of_now_is_translated(german_catalogue: catalogue.Catalog) -> None:
    now = catalogue.renewed(german_catalogue, collect(ROOT), "de")
    lacking = catalogue.missing(now)
    print(f"\nGerman: {len(now) - len(lacking)} of {len(now)} messages translated")
    assert lacking == [], "run `manage.py words --missing FILE`, translate, and `manage.py words --take FILE`"


def test_translations_have_the_gaps_and_elements_of_their_messages(
    german_catalogue: catalogue.Catalog,
) -> None:
    assert list(catalogue.mismatched(german_catalogue)) == []


def test_the_compiled_catalogue_is_the_written_one(german_catalogue: catalogue.Catalog) -> None:
    held = catalogue.place_of(ROOT, "de").with_suffix(".mo").read_bytes()
    assert held == catalogue.compiled(german_catalogue), "run `manage.py words`"


@pytest.mark.django_db
def test_a_person_chooses_and_the_browser_remembers() -> None:
    person, client = factories.make_user(), Client()
    page = client.get(reverse("account:sign-in")).content.decode()
    assert '<html lang="en">' in page
    client.post(reverse("account:language"), {"language": "de", "next": reverse("account:sign-in")})
    page = client.get(reverse("account:sign-in")).content.decode()
    assert '<html lang="de">' in page and "Anmelden" in page
    other = Client(headers={"Accept-Language": "de-AT,de;q=0.9"})
    assert "Anmelden" in other.get(reverse("account:sign-in")).content.decode()
    client.force_login(person)
    client.post(reverse("account:language"), {"language": "en"})
    person.refresh_from_db()
    assert person.language == "en"
    assert client.post(reverse("account:language"), {"language": "xx"}).status_code == 400
    away = client.post(reverse("account:language"), {"language": "de", "next": "https://example.org/"})
    assert away.headers["Location"] == "/"


# Words that would tell English from German, and that stand in no name or shared term.
ENGLISH = re.compile(r"\b(the|your|with|and|from|this|have|was|were|not|you|of)\b", re.IGNORECASE)


@pytest.mark.django_db
@pytest.mark.parametrize("person", ["student", "coach", "organiser"])
def test_pages_hold_no_english_sentence(person: str) -> None:
    cast = make_cast()
    client = Client()
    user = cast.person(person)
    client.force_login(user)
    client.post(reverse("account:language"), {"language": "de"})
    for name in ("home", "account:me", "account:intake", "account:doors", "account:keys", "account:address"):
        answer = client.get(reverse(name), follow=True)
        assert answer.status_code == 200
        words = re.sub(
            r"<(script|style|select)\b.*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.DOTALL
        )
        found = [line.strip() for line in words.splitlines() if len(ENGLISH.findall(line)) >= 2]
        assert not found, f"{name} as {person}: {found[:5]}"
