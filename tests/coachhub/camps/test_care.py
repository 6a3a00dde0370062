from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from coachhub.accounts.domain.growing_up import grow_up_all
from coachhub.accounts.models import Minor, Notice, User
from coachhub.camps.domain.care import Care, care_of, most_hours, set_care
from coachhub.camps.domain.concerns import answer_concern, report_concern, take_up
from coachhub.camps.domain.stale import remind_of_old_answers
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp, Concern
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.feedback.domain.junior_load import JuniorLoad, junior_load
from coachhub.feedback.models import Practice, Review
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def report(
    cast: Cast, about: User | None = None, words: str = "He hit 200 balls with a sore back"
) -> Concern:
    return report_concern(cast.minor, cast.camp, words, about=about, by=cast.guardian, now=NOW)


class TestConcerns:
    def test_it_goes_to_the_organiser_and_back_to_the_guardian(self, cast: Cast) -> None:
        concern = report(cast, cast.coach)
        assert list(Concern.objects.visible_to(cast.organiser)) == [concern]
        take_up(concern, by=cast.organiser, now=NOW)
        answer_concern(concern, "We changed the plan.", by=cast.organiser, now=NOW + timedelta(hours=1))
        client = Client()
        client.force_login(cast.guardian)
        page = client.get(reverse("guardian:concerns", args=[cast.minor.public_id])).content.decode()
        assert "We changed the plan." in page
        with pytest.raises(Stale):
            take_up(concern, by=cast.organiser, now=NOW)

    @pytest.mark.parametrize(
        "name", ["coach", "coach_elsewhere", "minor", "student", "organiser_elsewhere", "outsider"]
    )
    def test_nobody_else_learns_of_it(self, cast: Cast, name: str) -> None:
        report(cast, cast.coach)
        person = cast.person(name)
        assert isinstance(person, User)
        assert not Concern.objects.visible_to(person).exists()

    def test_an_organiser_whom_it_is_about_neither_sees_nor_answers_it(self, cast: Cast) -> None:
        with pytest.raises(RuleBroken) as caught:
            report(cast, cast.organiser)
        assert caught.value.code == "nobody_reads"
        second = factories.make_user("Second Organiser")
        factories.join(second, cast.cohort, Role.ORGANISER)
        concern = report(cast, cast.organiser)
        assert not Concern.objects.visible_to(cast.organiser).exists()
        with pytest.raises(RuleBroken):
            answer_concern(concern, "All is well.", by=cast.organiser, now=NOW)
        client = Client()
        client.force_login(cast.organiser)
        page = client.get(reverse("organiser:safety", args=[cast.camp.public_id])).content.decode()
        assert "sore back" not in page
        client.force_login(second)
        assert (
            "sore back"
            in client.get(reverse("organiser:safety", args=[cast.camp.public_id])).content.decode()
        )
        answer_concern(concern, "I look into it.", by=second, now=NOW)

    def test_only_about_the_own_child_and_people_of_its_camp(self, cast: Cast) -> None:
        for child, about in (
            (cast.student, None),
            (cast.minor, cast.organiser_elsewhere),
            (cast.minor, cast.student),
        ):
            with pytest.raises(RuleBroken):
                report_concern(child, cast.camp, "words", about=about, by=cast.guardian, now=NOW)
        with pytest.raises(RuleBroken):
            report(cast, words="  ")
        assert not Concern.objects.exists()


@pytest.fixture
def answer(cast: Cast) -> Review:
    sent = factories.make_submission(cast.minor, cast.cohort, state="answered")
    return factories.make_review(
        sent, state="published", published_at=NOW - timedelta(days=9), published_by=cast.coach
    )


def practise(answer: Review, days_ago: int, balls: int, kind: str = "done") -> None:
    day = (NOW - timedelta(days=days_ago)).date()
    Practice.objects.create(review=answer, kind=kind, on_day=day, balls=balls, created_at=NOW)


def load(cast: Cast) -> JuniorLoad:
    found = junior_load(cast.minor, cast.camp, now=NOW)
    assert found is not None
    return found


class TestBallLimits:
    def test_balls_of_one_day_are_added_up(self, cast: Cast, answer: Review) -> None:
        practise(answer, 0, 25)
        practise(answer, 0, 15)
        practise(answer, 0, 500, kind="hurts")
        assert (load(cast).balls_today, load(cast).is_over) == (40, False)
        practise(answer, 0, 1)
        assert load(cast).too_many_balls

    def test_days_of_the_last_seven(self, cast: Cast, answer: Review) -> None:
        for days_ago in (0, 2, 4, 6, 7):
            practise(answer, days_ago, 10)
        assert (load(cast).days_of_seven, load(cast).too_many_days) == (4, False)
        practise(answer, 1, 10)
        assert load(cast).too_many_days

    def test_hours_are_watched_from_the_years_of_age_on(self, cast: Cast) -> None:
        """AOSSM consensus, AMSSM 2014, AAP, NATA 2019: hours a week above the age, or above 16."""
        assert [most_hours(age) for age in (8, 12, 16, 17)] == [8, 12, 16, 16]
        Minor.objects.filter(person=cast.minor).update(birth_year=NOW.year - 11, birth_month=1)
        factories.make_intake(cast.minor, age_band="under_18", practice_hours=11, created_at=NOW)
        assert not load(cast).too_many_hours
        factories.make_intake(
            cast.minor, age_band="under_18", practice_hours=12, created_at=NOW + timedelta(hours=1)
        )
        assert load(cast).too_many_hours

    def test_grown_ups_have_none(self, cast: Cast) -> None:
        assert junior_load(cast.student, cast.camp, now=NOW) is None

    def test_the_camps_own_bound_holds_for_all_who_see_it(self, cast: Cast, answer: Review) -> None:
        set_care(cast.camp, Care(balls_per_day=23, days_per_week=2), by=cast.organiser, now=NOW)
        practise(answer, 0, 24)
        assert load(cast).too_many_balls
        place = cast.minor.memberships.get()
        for reader, address in (
            (cast.minor, reverse("student:home")),
            (cast.guardian, reverse("guardian:child", args=[cast.minor.public_id])),
            (cast.coach, reverse("coach:student", args=[place.public_id])),
        ):
            client = Client()
            client.force_login(reader)
            assert "at most 23 balls a day" in client.get(address).content.decode(), address

    def test_logging_more_warns_at_once(self, cast: Cast) -> None:
        from django.utils import timezone

        sent = factories.make_submission(cast.minor, cast.cohort, state="answered")
        now = timezone.now()
        answer = factories.make_review(sent, state="published", published_at=now, published_by=cast.coach)
        client = Client()
        client.force_login(cast.minor)
        address = reverse("student:practise", args=[answer.public_id])
        said = {"token": "4b0a3a39-6d0b-4b4f-9d5e-0f0f5f3a8f77", "kind": "done"}
        page = client.post(address, said | {"balls": "40"}, follow=True).content.decode()
        assert "Rest now" not in page
        said["token"] = "4b0a3a39-6d0b-4b4f-9d5e-0f0f5f3a8f78"
        page = client.post(address, said | {"balls": "20"}, follow=True).content.decode()
        assert "Rest now" in page

    @pytest.mark.parametrize("care", [Care(balls_per_day=4), Care(balls_per_day=201), Care(days_per_week=7)])
    def test_no_camp_allows_everything(self, cast: Cast, care: Care) -> None:
        with pytest.raises(RuleBroken):
            set_care(cast.camp, care, by=cast.organiser, now=NOW)
        assert care_of(Camp.objects.get(pk=cast.camp.pk)) == Care()


def test_an_open_concern_stands_on_the_organisers_pages_until_it_is_answered(cast: Cast) -> None:
    concern = report(cast)
    client = Client()
    client.force_login(cast.organiser)
    pages = (reverse("organiser:camps"), reverse("organiser:camp", args=[cast.camp.public_id]))
    for page in pages:
        assert "1 concern of a guardian" in client.get(page).content.decode()
    answer_concern(concern, "Done.", by=cast.organiser, now=NOW)
    for page in pages:
        assert "concern of a guardian" not in client.get(page).content.decode()


class TestTold:
    def test_a_concern_reaches_the_organiser_and_its_answer_the_guardian(self, cast: Cast) -> None:
        concern = report(cast, cast.coach)
        assert {notice.person for notice in Notice.objects.all()} == {cast.organiser}
        take_up(concern, by=cast.organiser, now=NOW)
        answer_concern(concern, "Done.", by=cast.organiser, now=NOW)
        told = Notice.objects.filter(kind="replied")
        assert [notice.person for notice in told] == [cast.guardian, cast.guardian]
        assert not Notice.objects.filter(person__in=(cast.coach, cast.minor)).exists()

    def test_old_answers_are_asked_for_once(self, cast: Cast) -> None:
        later = NOW + timedelta(weeks=2)
        assert remind_of_old_answers(later) == 0
        set_care(cast.camp, Care(intake_weeks=2), by=cast.organiser, now=NOW)
        assert remind_of_old_answers(later + timedelta(hours=1)) == 3
        assert remind_of_old_answers(later + timedelta(hours=2)) == 0
        told = set(Notice.objects.filter(kind="stale").values_list("person", flat=True))
        # The guardian reads along here too.
        assert told == {cast.student.pk, cast.cohort_mate.pk, cast.minor.pk, cast.guardian.pk}

    def test_who_came_of_age_is_asked_for_the_own_consent(self, cast: Cast) -> None:
        Minor.objects.filter(person=cast.minor).update(birth_year=NOW.year - 19, birth_month=1)
        assert grow_up_all(now=NOW) == 1
        (notice,) = Notice.objects.all()
        assert (notice.person, notice.kind, notice.path) == (
            cast.minor,
            "consent",
            reverse("account:consents"),
        )
