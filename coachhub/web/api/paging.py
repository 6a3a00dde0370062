from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from ninja import Field, Schema

MOST = 200
FURTHEST = 1_000_000


class Page(Schema):
    limit: int = Field(50, ge=1, le=MOST)
    offset: int = Field(0, ge=0, le=FURTHEST)

    def cut(self, rows: QuerySet[Any, Any]) -> QuerySet[Any, Any]:
        return rows[self.offset : self.offset + self.limit]
