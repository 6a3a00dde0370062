"""A page on paper: HTML from a template becomes a tagged PDF (PDF/UA-1, ISO 14289-1). Nothing is fetched: pictures lie
on a shelf that the report itself fills, and any other address is refused."""

from __future__ import annotations

import logging
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

from django.http import HttpResponse
from django.template.loader import render_to_string
from django.utils.text import slugify
from django.utils.translation import get_language
from weasyprint import CSS, HTML
from weasyprint.urls import URLFetcher, URLFetcherResponse

SCHEME = "paper"
STYLES = Path(__file__).with_name("paper.css")
PLOT_STYLES = Path(__file__).with_name("plots.css")
# Its log tells each step, and addresses that may hold people's words.
logging.getLogger("weasyprint").setLevel(logging.CRITICAL)
# A page of a report takes up to some hundred megabytes and a core: one at a time for each process.
_PRESS = threading.BoundedSemaphore(1)
LONGEST_WAIT_S = 20
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


class ShelfFetcher(URLFetcher):  # type: ignore[misc]
    """Answers with what lies on the shelf, and with nothing else: no network, no files."""

    def __init__(self, shelf: Shelf) -> None:
        super().__init__(allowed_protocols=(SCHEME,), allow_redirects=False)
        self.shelf = shelf
        self.refused: list[str] = []

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> Any:
        found = self.shelf.things.get(url)
        if found is None:
            self.refused.append(url)
            raise ValueError("a report must not fetch anything")
        kind, content = found
        return URLFetcherResponse(url, BytesIO(content), {"Content-Type": kind})


class Busy(Exception):
    """Too many reports at once."""


def on_paper(template: str, context: Mapping[str, Any], shelf: Shelf) -> bytes:
    page = render_to_string(template, {**context, "language": get_language() or "en"})
    return printed(page, ShelfFetcher(shelf))


def printed(page: str, fetcher: ShelfFetcher) -> bytes:
    if not _PRESS.acquire(timeout=LONGEST_WAIT_S):
        raise Busy
    try:
        html = HTML(string=page, base_url=f"{SCHEME}:", url_fetcher=fetcher)
        styles = CSS(string=STYLES.read_text("utf-8"), url_fetcher=fetcher)
        pdf = html.write_pdf(stylesheets=[styles], pdf_variant="pdf/ua-1", optimize_images=False)
    finally:
        _PRESS.release()
    assert isinstance(pdf, bytes)
    return pdf


def sent(pdf: bytes, *names: str) -> HttpResponse:
    """The file's name says which camp and day it is of, and names nobody."""
    response = HttpResponse(pdf, content_type="application/pdf")
    name = slugify("-".join(names)) or "report"
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response
