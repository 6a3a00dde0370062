"""One writer for all tables of a camp: a maker says the rows, the address says the kind of file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.camps.models import Camp, Cohort
from coachhub.common.spreadsheet import CONTENT_TYPES, WRITERS
from coachhub.web.organiser.access import camp_for
from coachhub.web.who import person_of


@dataclass(frozen=True)
class Table:
    name: str
    heading: Sequence[str]
    rows: Iterable[Sequence[object]]


Maker = Callable[[Camp, list[Cohort], datetime], Table]


def download(maker: Maker) -> Callable[..., HttpResponse]:
    """The page that sends this table, in the kind of file that the address names."""

    @login_required
    @require_safe
    @wraps(maker)
    def inner(request: HttpRequest, public_id: UUID, kind: str) -> HttpResponse:
        camp = camp_for(request, public_id, "camps.export")
        cohorts = list(Cohort.objects.visible_to(person_of(request)).filter(camp=camp))
        table = maker(camp, cohorts, timezone.now())
        response = HttpResponse(WRITERS[kind](table.heading, table.rows), content_type=CONTENT_TYPES[kind])
        response["Content-Disposition"] = f'attachment; filename="{table.name}.{kind}"'
        return response

    return inner


def there(camp: Camp, at: datetime | None) -> datetime | None:
    """In the camp's zone, with its offset."""
    return at.astimezone(camp.zone) if at else None


def yes_no(value: bool) -> str:
    return "yes" if value else "no"
