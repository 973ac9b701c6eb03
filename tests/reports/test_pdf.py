"""Without the libraries behind PDF there is a sentence, and nothing is fetched for a page."""

from __future__ import annotations

import sys
from importlib.abc import MetaPathFinder

import pytest

from station.errors import StationFaultError
from station.reports.pdf import pdf_of


class NoPango(MetaPathFinder):
    """Fails as the library does where Pango is not installed: with OSError, when imported."""

    def find_spec(self, name: str, *_: object) -> None:
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0-0'")


def test_missing_libraries_are_named_with_the_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(sys, "meta_path", [NoPango(), *sys.meta_path])
    with pytest.raises(StationFaultError, match="only the HTML page") as missing:
        pdf_of("<p>A</p>")
    assert "apt install libpango" in missing.value.remedy


@pytest.mark.usefixtures("pdf_libraries")
def test_a_page_that_asks_for_something_outside_gets_nothing() -> None:
    asked = pdf_of('<img src="http://127.0.0.1:9/never.png" alt="">')
    assert asked.startswith(b"%PDF")
