"""A person's rows as plain values, in the words of the site: what stands in ``data.json``."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db.models import Field, ForeignKey, Model

from coachhub.accounts.models import User
from coachhub.common.models import JobRow
from coachhub.progress.domain.personal import PARTS, Part
from coachhub.swings.models import Readout

UNREVIEWED = "unreviewed: flagged by the machine, no coach has looked at it"
# What a worker notes beside its work says nothing about the person.
_WORK = frozenset(field.name for field in JobRow._meta.get_fields())


def data_of(person: User) -> dict[str, list[dict[str, Any]]]:
    """Section to rows, each field by its name. Other people stand in it as the site shows them: by name or role."""
    found: dict[str, list[dict[str, Any]]] = {}
    for part in PARTS:
        rows = [_row(row, part) for row in part.rows(person)]
        if rows:
            found[part.title] = rows
    return found


def _row(row: Model, part: Part) -> dict[str, Any]:
    told = {
        field.name: _value(row, field)
        for field in row._meta.concrete_fields
        if not _is_hidden(field, part, is_job=isinstance(row, JobRow))
    }
    if isinstance(row, Readout):
        told["signs"] = _signs(row)
    return told


def _is_hidden(field: Field[Any, Any], part: Part, *, is_job: bool) -> bool:
    is_inside = field.primary_key or field.name.endswith("_key") or field.name in part.hidden
    return is_inside or (is_job and field.name in _WORK)


def _value(row: Model, field: Field[Any, Any]) -> Any:
    value = getattr(row, field.attname)
    if isinstance(field, ForeignKey):
        return None if value is None else _named(getattr(row, field.name))
    if field.choices and value not in (None, ""):
        return str(getattr(row, f"get_{field.name}_display")())
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    return str(value) if isinstance(value, UUID) else value


def _named(other: Model) -> str:
    if isinstance(other, User):
        return other.name
    name = getattr(other, "name", None) or getattr(other, "title", None)
    return str(name or getattr(other, "public_id", other._meta.verbose_name))


def _signs(readout: Readout) -> list[dict[str, Any]]:
    """Every flag, also those that no page shows before a coach has said something of them."""
    judged = apps.get_model("swings.signjudgement")._default_manager.filter(swing=readout.swing)
    said = {row.sign: str(row.get_verdict_display()) for row in judged}
    return [
        {"sign": flag.sign, "level": flag.get_level_display(), "review": said.get(flag.sign, UNREVIEWED)}
        for flag in readout.flags.order_by("sign")
    ]
