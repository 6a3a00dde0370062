"""The queue page: what waits, why, and how long still."""

from __future__ import annotations

from collections import defaultdict
from typing import Any
from uuid import UUID

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.models import User
from coachhub.camps.enums import MemberState, Role
from coachhub.camps.models import Cohort, Membership
from coachhub.feedback.domain.queue import Counts, Pile, Reason, Wanted, by_student, count, queue_of
from coachhub.feedback.forms import WAITS
from coachhub.feedback.models import Review
from coachhub.videos.enums import ClubClass, View
from coachhub.web.coach.access import coach_page, me
from coachhub.web.coach.rows import rows_of

PAGE_SIZE = 25
RELATED = ("submission__student", "submission__cohort", "claimed_by")
LONG_TEXTS = ("words", "submission__intent_words", "submission__note", "submission__pain_words")


@require_safe
@coach_page
def queue(request: HttpRequest, cohorts: list[Cohort]) -> HttpResponse:
    now, user = timezone.now(), me(request)
    wanted = wanted_from(request.GET, cohorts)
    grouped = request.GET.get("group") == "student"
    counts = count(user, wanted, now=now)
    page = _page(queue_of(user, wanted, now=now), counts, wanted, grouped, request.GET.get("page", "1"))
    context = {
        "rows": rows_of(list(page), user, now),
        "page": page,
        "wanted": wanted,
        "grouped": grouped,
        "counts": counts,
        "left": counts.piles[Pile.WAITING],
        "waits": [(key, words) for key, (words, _) in WAITS.items()],
        "coaches": _other_coaches(cohorts, user),
        "camps": list({cohort.camp_id: cohort.camp for cohort in cohorts}.values()),
        "places": _places(list(page)),
        "back": request.get_full_path(),
        **_choices(counts, cohorts, request.GET),
    }
    return render(request, "coach/queue.html", context)


def wanted_from(given: QueryDict, cohorts: list[Cohort]) -> Wanted:
    """The filters of the address; what makes no sense is left out rather than refused."""

    def among(name: str, values: list[str], fallback: str = "") -> str:
        value = given.get(name, "")
        return value if value in values else fallback

    chosen = among("cohort", [str(cohort.public_id) for cohort in cohorts])
    return Wanted(
        pile=among("pile", Pile.values, Pile.WAITING),
        cohort=UUID(chosen) if chosen else None,
        reason=among("reason", Reason.values),
        view=among("view", View.values),
        club=among("club", ClubClass.values),
        mine=given.get("mine") == "1",
    )


def _page(
    reviews: QuerySet[Review], counts: Counts, wanted: Wanted, grouped: bool, number: str
) -> Page[Review]:
    # Sorted as bare ids, then only the rows of this page are read: the texts of thousands stay where they are.
    ids = Paginator(by_student(reviews) if grouped else reviews.values_list("pk", flat=True), PAGE_SIZE)
    known = _known_total(counts, wanted)
    if known is not None:
        # Counted already: the cached property saves a query over the whole queue.
        ids.__dict__["count"] = known
    page: Page[Any] = ids.get_page(number)
    wide = Review.objects.select_related(*RELATED).defer(*LONG_TEXTS).in_bulk(list(page))
    page.object_list = [wide[pk] for pk in page.object_list if pk in wide]
    return page


def _known_total(counts: Counts, wanted: Wanted) -> int | None:
    if wanted.mine:
        return None
    if not wanted.reason:
        return counts.piles[wanted.pile]
    return counts.reasons[wanted.reason] if wanted.pile == Pile.WAITING else None


def _other_coaches(cohorts: list[Cohort], user: User) -> dict[int, list[User]]:
    """Whom a review can be handed to, by cohort."""
    found: dict[int, list[User]] = defaultdict(list)
    held = Membership.objects.filter(cohort__in=cohorts, role=Role.COACH, state=MemberState.ACTIVE)
    for place in held.exclude(user=user).select_related("user").order_by("user__name"):
        if place.cohort_id is not None:
            found[place.cohort_id].append(place.user)
    return dict(found)


def _places(reviews: list[Review]) -> dict[int, UUID]:
    """The student page of each submission, by submission."""
    students = {review.submission.student_id for review in reviews}
    held = Membership.objects.students().filter(user__in=students)
    places = {(place.user_id, place.cohort_id): place.public_id for place in held}
    return {
        review.submission_id: places[review.submission.student_id, review.submission.cohort_id]
        for review in reviews
        if (review.submission.student_id, review.submission.cohort_id) in places
    }


def _choices(counts: Counts, cohorts: list[Cohort], given: QueryDict) -> dict[str, Any]:
    return {
        "piles": [(key, label, counts.piles[key], _with(given, pile=key)) for key, label in Pile.choices],
        "reasons": [
            (key, label, counts.reasons[key], _with(given, reason=key, pile=None))
            for key, label in Reason.choices
            if counts.reasons[key]
        ],
        "without_reason": _with(given, reason=None),
        "cohorts": cohorts,
        "views": View.choices,
        "clubs": ClubClass.choices,
        "page_query": _with(given, page=None),
    }


def _with(given: QueryDict, **changes: str | None) -> str:
    """The address's filters with some changed; the page number starts anew."""
    query = given.copy()
    query.pop("page", None)
    for name, value in changes.items():
        query.pop(name, None)
        if value:
            query[name] = value
    return query.urlencode()
