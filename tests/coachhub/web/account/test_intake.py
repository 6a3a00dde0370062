from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts.domain.consent import standing
from coachhub.accounts.domain.minors import is_minor
from coachhub.accounts.models import Guardianship, Intake, Minor, User
from coachhub.common.models import Event
from tests import factories
from tests.cast import make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

INTAKE = "/account/intake/"
GOOD: dict[str, Any] = {
    "age_band": "18_39",
    "handedness": "left",
    "level": "high",
    "clubs": "7 iron, driver",
    "miss_start": "right",
    "miss_curve": "right",
    "miss_strike": "thin",
    "miss_height": "low",
    "intents": ["bel_lift", "bel_headdown"],
    "intent_words": "get it up",
    "goals": "break 100",
    "practice_hours": "3",
    "pain": "none",
    "agrees_analysis": "on",
    "agrees_feedback": "on",
}


@pytest.fixture
def student(client: Client, db: None) -> User:
    cohort = factories.make_cohort()
    person = factories.make_user()
    factories.join(person, cohort)
    client.force_login(person)
    return person


def test_all_answers_are_kept(client: Client, student: User) -> None:
    pain = {
        "pain": "now",
        "pain_sites": ["wrist", "low_back"],
        "pain_words": "since spring",
        "agrees_cohort": "on",
    }
    answer = client.post(INTAKE, GOOD | pain)
    assert answer.headers["Location"] == reverse("home")
    kept = Intake.objects.get(user=student)
    assert standing(student) == {"analysis", "feedback", "cohort"}
    asked = {name: value for name, value in (GOOD | pain).items() if not name.startswith("agrees_")}
    for field, value in asked.items():
        assert str(getattr(kept, field)) == str(value), field


def test_the_next_time_starts_from_the_last_answers_and_asks_for_no_consent_again(
    client: Client, student: User
) -> None:
    client.post(INTAKE, GOOD)
    form = client.get(INTAKE).context["form"]
    assert form["intents"].value() == GOOD["intents"]
    assert form["miss_strike"].value() == "thin"
    assert "agrees_analysis" not in form.fields
    client.post(INTAKE, GOOD | {"handedness": "right"})
    assert list(Intake.objects.order_by("pk").values_list("handedness", flat=True)) == ["left", "right"]


MINOR = GOOD | {
    "age_band": "under_18",
    "birth_month": "5",
    "birth_year": str(timezone.now().year - 14),
    "guardian_1": "Parent@example.org",
    "guardian_2": "other.parent@example.org",
}


def test_a_minor_names_guardians_and_agrees_to_nothing(client: Client, student: User) -> None:
    answer = client.post(INTAKE, MINOR)
    assert answer.headers["Location"] == reverse("guardian:mine")
    assert is_minor(student, now=timezone.now())
    assert not standing(student)
    named = Guardianship.objects.filter(child=student).order_by("pk")
    assert [row.email for row in named] == ["parent@example.org", "other.parent@example.org"]
    assert {row.state for row in named} == {"invited"}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"birth_month": ""}, "birth_month"),
        ({"birth_year": "1980"}, "birth_year"),
        ({"birth_year": str(timezone.now().year - 2)}, "birth_year"),
        ({"guardian_1": ""}, "guardian_1"),
        ({"guardian_1": "nobody"}, "guardian_1"),
        ({"guardian_2": "Parent@example.org"}, "guardian_2"),
    ],
)
def test_what_a_minor_leaves_out_is_asked_and_nothing_is_kept(
    client: Client, student: User, change: dict[str, str], field: str
) -> None:
    events = Event.objects.count()
    answer = client.post(INTAKE, MINOR | change)
    assert list(answer.context["form"].errors) == [field]
    assert not Intake.objects.exists()
    assert not Minor.objects.exists()
    assert Event.objects.count() == events


def test_a_minor_can_not_make_themselves_older(client: Client, student: User) -> None:
    client.post(INTAKE, MINOR)
    answer = client.post(INTAKE, GOOD)
    assert "age_band" in answer.context["form"].errors
    assert is_minor(student, now=timezone.now())


def test_the_child_can_not_be_the_own_guardian(client: Client, student: User) -> None:
    answer = client.post(INTAKE, MINOR | {"guardian_1": student.email.upper()})
    assert "your own address" in answer.content.decode()
    assert not Guardianship.objects.exists()
    assert not Minor.objects.exists()


def test_still_so_dates_the_same_answers_anew(client: Client, student: User) -> None:
    client.post(INTAKE, GOOD)
    assert client.post(reverse("account:still-so")).headers["Location"] == reverse("home")
    assert Intake.objects.filter(user=student).count() == 2


@pytest.mark.parametrize(
    ("flags", "urgent"), [(["night"], False), (["chest"], True), (["fall", "bladder"], True)]
)
def test_a_pain_alert_leads_to_advice(client: Client, student: User, flags: list[str], urgent: bool) -> None:
    answer = client.post(
        INTAKE, GOOD | {"pain": "now", "pain_sites": ["low_back"], "red_flags": flags}, follow=True
    )
    assert answer.redirect_chain[0][0] == reverse("account:pain-advice")
    page = answer.content.decode()
    assert ("emergency number" in page) is urgent
    assert "clinician" in page
    assert "clinician" in client.get("/account/").content.decode()
    assert Intake.objects.get().red_flags == flags


def test_words_never_clear_a_tick(client: Client, student: User) -> None:
    client.post(
        INTAKE, GOOD | {"pain": "none", "pain_words": "no pain at all, all fine", "red_flags": ["numb"]}
    )
    assert Intake.objects.get().red_flags == ["numb"]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"agrees_analysis": ""}, "agrees_analysis"),
        ({"agrees_feedback": ""}, "agrees_feedback"),
        ({"age_band": "ancient"}, "age_band"),
        ({"handedness": ""}, "handedness"),
        ({"intents": ["bel_lift", "fly"]}, "intents"),
        ({"red_flags": ["sneeze"]}, "red_flags"),
        ({"practice_hours": "61"}, "practice_hours"),
        ({"practice_hours": "-1"}, "practice_hours"),
        ({"intent_words": "x" * 1001}, "intent_words"),
        ({"pain": "now"}, "pain_sites"),
    ],
)
def test_each_odd_answer_is_marked_and_nothing_saved(
    client: Client, student: User, change: dict[str, Any], field: str
) -> None:
    answer = client.post(INTAKE, GOOD | change)
    assert list(answer.context["form"].errors) == [field]
    assert not Intake.objects.exists()


def test_the_page_about_oneself_shows_the_answers_in_words(client: Client, student: User) -> None:
    client.post(INTAKE, GOOD)
    page = client.get("/account/").content.decode()
    for words in ("left-handed", "starts right, curves right", "help the ball up into the air", "break 100"):
        assert words in page


@pytest.mark.parametrize("name", ["coach", "organiser", "outsider"])
def test_only_students_are_asked(client: Client, name: str) -> None:
    person = make_cast().person(name)
    client.force_login(person)
    for answer in (client.get(INTAKE, follow=True), client.post(INTAKE, GOOD, follow=True)):
        assert answer.redirect_chain[0] == (reverse("home"), 302)
        assert "for the students of a camp" in answer.content.decode()
    assert not Intake.objects.filter(user=person).exists()
