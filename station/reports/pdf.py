"""From a page to a PDF, without a browser and without asking anything of the outside."""

from __future__ import annotations

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
        from weasyprint.urls import URLFetcher  # noqa: PLC0415 - comes with it
    except OSError as error:
        raise StationFaultError(
            "The libraries that set text for PDF are missing, so there is only the HTML page.",
            f"Install them: apt install {LIBRARIES}",
        ) from error
    # all that a page needs stands in it
    document: bytes = HTML(string=page, url_fetcher=URLFetcher(allowed_protocols=())).write_pdf()
    return document
