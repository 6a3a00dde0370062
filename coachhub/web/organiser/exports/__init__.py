"""The organiser's tables as CSV and XLSX."""

from __future__ import annotations

from coachhub.web.organiser.exports.people import (
    consents_table,
    films_table,
    invitations_table,
    plan_table,
)
from coachhub.web.organiser.exports.progress import attention_table, numbers_table
from coachhub.web.organiser.exports.results import (
    load_table,
    participation_table,
    practice_table,
    signs_table,
    turnaround_table,
)
from coachhub.web.organiser.exports.service import log_table, service_table

EXPORTS = {
    "participation": participation_table,
    "plan": plan_table,
    "turnaround": turnaround_table,
    "load": load_table,
    "service": service_table,
    "signs": signs_table,
    "numbers": numbers_table,
    "attention": attention_table,
    "practice": practice_table,
    "consents": consents_table,
    "invitations": invitations_table,
    "films": films_table,
    "log": log_table,
}
