"""The languages that paper is written in: texts by gettext, numbers and dates by their locale.

The catalogues are kept as the text files that translators work on. They are made ready when a
page is written (some 20 ms), so that no compiled copy can be older than its text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from io import BytesIO

from babel import Locale
from babel.dates import format_datetime, format_skeleton
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

LOCALES = {"en": "en_GB", "de": "de_DE"}  # the texts of the program are English
NUMBER = re.compile(r"(?<![\w.])(\d+)(\.\d+)?(?![\w.]*\d)")


@dataclass(frozen=True, slots=True)
class Language:
    """One language with everything that depends on it."""

    code: str
    locale: Locale
    catalogue: NullTranslations

    def text(self, message: str) -> str:
        """Return a text of the program in this language."""
        return self.catalogue.gettext(message)

    def figures(self, words: str) -> str:
        """Return words whose numbers are written as this language writes them."""
        return NUMBER.sub(self._figure, words)

    def instant(self, utc: datetime) -> str:
        """Return date and time of an instant, in UTC."""
        time = format_datetime(utc, "HH:mm", tzinfo=UTC, locale=self.locale)
        return f"{self.day(utc)}, {time} UTC"

    def day(self, utc: datetime) -> str:
        """Return the date of an instant, in UTC."""
        return format_skeleton("yMMMd", utc.astimezone(UTC), tzinfo=UTC, locale=self.locale)

    def _figure(self, found: re.Match[str]) -> str:
        whole, decimals = found.group(1), found.group(2) or ""
        digits = "0" * (len(decimals) - 1)
        pattern = f"0.{digits}" if digits else "0"
        return format_decimal(Decimal(whole + decimals), format=pattern, locale=self.locale)


def language(code: str) -> Language:
    """Return a language by its code, a key of LOCALES."""
    return Language(code, Locale.parse(LOCALES[code]), catalogue(code))


def catalogue(code: str) -> NullTranslations:
    """Return the texts of a language; those of the program itself are English."""
    if code == "en":
        return NullTranslations()
    source = files("station.reports") / "locale" / code / "messages.po"
    ready = BytesIO()
    write_mo(ready, read_po(BytesIO(source.read_bytes()), locale=code))
    ready.seek(0)
    return GNUTranslations(ready)
