"""Setting a page as a tagged PDF. Loaded with the first report, not with the site."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path
from typing import Any

from weasyprint import CSS, HTML
from weasyprint.urls import URLFetcher, URLFetcherResponse

from coachhub.web.reports.paper import SCHEME, Busy, Shelf

STYLES = Path(__file__).with_name("paper.css")
# A page of a report takes up to some hundred megabytes and a core: one at a time for each process.
_PRESS = threading.BoundedSemaphore(1)
LONGEST_WAIT_S = 20


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
