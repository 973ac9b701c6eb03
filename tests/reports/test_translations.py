"""Every text of the paper has its translation, with the same gaps to fill in."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib.resources import files
from io import BytesIO
from pathlib import Path

import pytest
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po

from station.analysis.gathering import NOT_FINITE
from station.diagnosis.named.messages import every_message
from station.judging.verdicts.judge import REWORK
from station.judging.words.readingwords import READING_NAMES
from station.quality.watching.leftout import every_part
from station.records.summaries.shiftsummary import VOID_SENTENCES
from station.reports.readingnames import reading_name
from station.reports.translations import LOCALES, language

REPORTS = files("station.reports")
ANALYSIS = Path(str(files("station.analysis")))
METHODS = [("**.py", "python"), ("**.jinja", "jinja2")]
OPTIONS = {"**.jinja": {"extensions": "jinja2.ext.i18n", "silent": "false"}}
GAP = re.compile(r"\{[a-z_]*\}|%\([a-z]*\)s|%s")


def messages() -> set[str]:
    """Return every sentence of the program that can stand on paper."""
    found = extract_from_dir(str(REPORTS), METHODS, OPTIONS, keywords={"_": None, "text": None})
    of_reports = {message for _file, _line, message, _comments, _context in found}
    return {
        *of_reports,
        *every_message(),
        *every_part(),
        REWORK,
        NOT_FINITE[1],
        *VOID_SENTENCES,
        *remedies_of_analysis(),
    }


def remedies_of_analysis() -> Iterator[str]:
    """Yield what is advised where a reading is missing, which may be the unit's fault."""
    for path in sorted(ANALYSIS.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            match ast.unparse(node.func), node.args:
                case ("NoSignalError", [_, ast.Constant(str(remedy))]):
                    yield remedy
                case ("missing", [_, _, ast.Constant(str(remedy))]):
                    yield remedy
                case ("NoSignalError", _):
                    raise AssertionError(f"{path}:{node.lineno}: a remedy with values in it")


@pytest.mark.parametrize("code", [code for code in LOCALES if code != "en"])
def test_every_text_is_translated_and_none_is_left_over(code: str) -> None:
    catalogue = read_po(BytesIO((REPORTS / "locale" / code / "messages.po").read_bytes()))
    translated = {entry.id: entry.string for entry in catalogue if entry.id}
    assert set(translated) == messages()
    assert all(translated.values())
    assert not any(entry.fuzzy for entry in catalogue if entry.id)
    for message, words in translated.items():
        assert sorted(GAP.findall(message)) == sorted(GAP.findall(words))


@pytest.mark.parametrize("code", LOCALES)
def test_every_reading_that_has_a_name_at_the_line_has_one_on_paper(code: str) -> None:
    for reading in (*READING_NAMES, "response", "sensitivity", "level.panel", "h3"):
        assert reading_name(language(code), reading) != reading


# CLDR: German writes the decimal comma, English the point; neither groups four digits here.
@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("en", "2.50 ± 0.12 kHz, −3 dB, C2, T2A00301"),
        ("de", "2,50 ± 0,12 kHz, −3 dB, C2, T2A00301"),
    ],
)
def test_figures_are_written_as_the_language_does(code: str, expected: str) -> None:
    assert language(code).figures("2.50 ± 0.12 kHz, −3 dB, C2, T2A00301") == expected


def test_very_small_figures_keep_all_their_digits() -> None:
    assert language("de").figures("5.39702 ± 0.00001 Ω") == "5,39702 ± 0,00001 Ω"


def test_instants_are_in_utc_and_say_so() -> None:
    instant = datetime(2026, 3, 5, 6, 7, 8, tzinfo=UTC)
    assert language("en").instant(instant) == "5 Mar 2026, 06:07 UTC"
    assert language("de").instant(instant) == "5. März 2026, 06:07 UTC"
