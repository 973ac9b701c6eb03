"""From a page to a PDF, without a browser and without asking anything of the outside."""

from __future__ import annotations

from typing import Any, NoReturn

from station.errors import StationFaultError

LIBRARIES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"


def pdf_of(page: str) -> bytes:
    """Return a page as PDF.

    Raises
    ------
    StationFaultError
        If the system's libraries for setting text are not there; the page itself is unharmed.
    """
    try:
        from weasyprint import HTML  # noqa: PLC0415 - takes half a second, and fails without Pango
    except OSError as error:
        raise StationFaultError(
            "The libraries that set text for PDF are missing, so there is only the HTML page.",
            f"Install them: apt install {LIBRARIES}",
        ) from error
    document: bytes = HTML(string=page, url_fetcher=nothing_outside).write_pdf()
    return document


def nothing_outside(url: str, *_: Any, **__: Any) -> NoReturn:
    """Refuse whatever a page might ask for: all it needs stands in it."""
    raise ValueError(f"a page asks for {url}")
