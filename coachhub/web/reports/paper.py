"""A page on paper: HTML from a template becomes a tagged PDF (PDF/UA-1, ISO 14289-1). Nothing is fetched: pictures lie
on a shelf that the report itself fills, and any other address is refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.http import HttpResponse
from django.template.loader import render_to_string
from django.utils.text import slugify
from django.utils.translation import get_language

SCHEME = "paper"
PLOT_STYLES = Path(__file__).with_name("plots.css")
MOST_BYTES = 8 * 1024 * 1024


@dataclass
class Shelf:
    """The pictures of one report, each under an address that means nothing outside it."""

    things: dict[str, tuple[str, bytes]] = field(default_factory=dict)

    def put(self, kind: str, content: bytes) -> str:
        """The address to write into the page; empty where there is nothing to show."""
        if not content or len(content) > MOST_BYTES:
            return ""
        address = f"{SCHEME}:{len(self.things) + 1}"
        self.things[address] = kind, content
        return address

    def put_plot(self, svg: str) -> str:
        """A plot of the site with the colours that its page would give it."""
        head, _, rest = svg.partition(">")
        styles = PLOT_STYLES.read_text("utf-8")
        whole = f'{head} xmlns="http://www.w3.org/2000/svg"><style>{styles}</style>{rest}'
        return self.put("image/svg+xml", whole.encode())


class Busy(Exception):
    """Too many reports at once."""


def on_paper(template: str, context: Mapping[str, Any], shelf: Shelf) -> bytes:
    # Setting a page takes a second to load alone: only who wants a report waits for it.
    from coachhub.web.reports.press import ShelfFetcher, printed

    page = render_to_string(template, {**context, "language": get_language() or "en"})
    return printed(page, ShelfFetcher(shelf))


def sent(pdf: bytes, *names: str) -> HttpResponse:
    """The file's name says which camp and day it is of, and names nobody."""
    response = HttpResponse(pdf, content_type="application/pdf")
    name = slugify("-".join(names)) or "report"
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response
