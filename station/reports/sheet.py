"""From facts and a template to a page in a language and a paper size."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from station.reports.translations import Language

TEMPLATES = "templates"
NUMBER_AND_UNIT = re.compile(r"(?<=[0-9]) (?=(?:%|°C|σ|[kMmµnp]?(?:Hz|dB|Ω|V|A|F|H|s|g|m))(?!\w))")


class Paper(Enum):
    """A size of paper (ISO 216; ANSI/ASME Y14.1)."""

    A4 = "A4"
    LETTER = "letter"

    @property
    def css(self) -> str:
        """What the style sheet calls it."""
        return self.value


@dataclass(frozen=True, slots=True)
class Codes:
    """The pictures of a page's codes."""

    qr: str
    bars: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture with its title, and a line sample with words for each thing in it."""

    title: str
    svg: str
    legend: tuple[tuple[str, str], ...]


def sheet(
    template: str,
    language: Language,
    paper: Paper,
    *,
    created: datetime,
    footer: str,
    **contents: Any,
) -> str:
    """Return a page; everything it is given is escaped but the pictures."""
    environment = Environment(
        loader=PackageLoader("station.reports", TEMPLATES),
        autoescape=True,
        finalize=unbroken,
        undefined=StrictUndefined,  # a forgotten word must not leave a gap on a certificate
        extensions=["jinja2.ext.i18n"],
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.install_gettext_callables(  # type: ignore[attr-defined] # the extension adds it
        language.catalogue.gettext, language.catalogue.ngettext, newstyle=True
    )
    return environment.get_template(template).render(
        language=language,
        paper=paper,
        created=created.isoformat(timespec="seconds"),
        footer=footer.replace("\\", "").replace('"', "'"),  # it stands in a CSS string
        **contents,
    )


def unbroken(value: object) -> object:
    """Return a text in which no line ends between a number and its unit.

    Common practice, no source. What is a part of a page already has had this done.
    """
    if not isinstance(value, str) or hasattr(value, "__html__"):
        return value
    return NUMBER_AND_UNIT.sub("\u00a0", value)
