"""Every word on paper goes through the translations, but for names, units and what people wrote.

A made-up language writes each sentence of the program in full-width letters; whatever is left in
plain letters was put on the paper past the translations.
"""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from gettext import NullTranslations
from html.parser import HTMLParser

import pytest

from station.analysis.acoustic.rubcause import RubCause
from station.diagnosis.named.suspect import Diagnosis, Estimate, Finding, Found, PartKind, Suspect
from station.diagnosis.named.words import check_words, suspect_words, suspected_words
from station.judging.verdicts.rubwords import with_likely_cause
from station.judging.verdicts.verdict import Cause, Judgement, Verdict
from station.records.log.production import LeftOut
from station.records.summaries.shiftsummary import CauseKind, ModelSummary, ShiftSummary
from station.reports.causewords import cause_words
from station.reports.certificate import certificate
from station.reports.comparison import common_curves, comparison
from station.reports.label import label
from station.reports.quantities import measured_on_paper, quantity_on_paper, unit_on_paper
from station.reports.reworkcard import rework_card
from station.reports.sheet import Paper, unbroken
from station.reports.shiftpage import shift_page
from station.reports.suspectrows import diagnosis_of_run, suspect_rows
from station.reports.translations import Language, language
from tests.reports.conftest import PARTNER, UNIT, Story
from tests.reports.test_translations import ANALYSIS

FULL_WIDTH = {code: code + 0xFEE0 for code in (*range(0x41, 0x5B), *range(0x61, 0x7B))}
GAPS = re.compile(r"(\{[a-z_]*\}|%\([a-z]*\)s)")
UNITS = {  # signs, which are the same in every language; a word for a unit is none
    "dB", "Hz", "kHz", "V", "F", "H", "mH", "T", "m", "g", "N", "mm", "s", "ms", "U",
}  # fmt: skip
OF_DATES = {"Nov", "UTC"}
WRITTEN = {
    "Tarn", UNIT, PARTNER, "T", "Beck", "lot", "tarn2", "toml", "id", "flac", "No", "treble",
    "since", "it", "fell", "broke", "Coil", "open", "simulated", "SHA", "station", "verify",
    "log", "tip", "HASH", "A", "k", "tweeter",
}  # fmt: skip


class MadeUp(NullTranslations):
    """Sentences in full-width letters, their gaps as they are."""

    def gettext(self, message: str) -> str:
        parts = GAPS.split(message)
        return "".join(p if GAPS.fullmatch(p) else p.translate(FULL_WIDTH) for p in parts)


GERMAN = language("de")
MADE_UP = replace(GERMAN, code="xx", catalogue=MadeUp())


class Reader(HTMLParser):
    """Collects the text of a page as people see it."""

    def __init__(self) -> None:
        super().__init__()
        self.hidden = 0
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.hidden += tag == "style"

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag == "style"

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)


def plain_words(text: str, *more: str) -> set[str]:
    """Return the words in plain letters that nobody wrote and that are no units."""
    hashes = re.sub(r"\b[0-9a-f]{8,}\b", "", text)
    known = UNITS | OF_DATES | WRITTEN | {word for m in more for word in re.findall(r"\w+", m)}
    found = re.findall(r"[A-Za-z][A-Za-z0-9]*", hashes)
    return {word for word in found if word not in known}


def seen(page: str) -> str:
    reader = Reader()
    reader.feed(page)
    return " ".join(reader.words).replace("\u00a0", " ")


def test_the_certificate(story: Story) -> None:
    page = seen(certificate(story.repaired, MADE_UP, Paper.A4))
    station = story.repaired.run.setup.station_name
    assert plain_words(page, station) == set()


def test_the_rework_card_with_what_people_wrote_translated_by_them(story: Story) -> None:
    limits = story.failed.limits
    assert limits is not None
    by_people = {rule.say: rule.say.translate(FULL_WIDTH) for rule in limits.advice}
    translated = limits.model_copy(update={"translations": {"xx": by_people}})
    facts = replace(story.failed, limits=translated)
    diagnosis = diagnosis_of_run(facts.run, limits)
    assert diagnosis.finding is Finding.SUSPECTS
    page = seen(rework_card(facts, MADE_UP, Paper.A4, *suspect_rows(diagnosis, MADE_UP)))
    station = story.failed.run.setup.station_name
    assert plain_words(page, station) == set()


def units_of_readings() -> Iterator[str]:
    """Yield the unit of every number and curve, as the analysis writes it."""
    place = {"Number": 1, "number_of": 1, "one_number": 2, "Curve": 2}
    for path in sorted(ANALYSIS.rglob("*.py")):
        if path.parent.name == "trust":
            continue  # what a fault was found by, which no paper tells
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and (at := place.get(ast.unparse(node.func))):
                match node.args[at]:
                    case ast.Constant(str(unit)):
                        yield unit


def test_every_unit_of_a_reading_is_a_sign_or_translated() -> None:
    units = set(units_of_readings())
    assert {"dB", "dB/octave", "deg", "sigma", "ratio"} < units
    for unit in units:
        for told in (
            unit_on_paper(MADE_UP, unit),
            quantity_on_paper(MADE_UP, 1.0, unit),
            measured_on_paper(MADE_UP, 1.0, unit, 0.1),
        ):
            assert plain_words(told) == set(), unit


# SI brochure, 5.4.3: a space between value and unit, but none before the sign of a degree.
@pytest.mark.parametrize(
    ("unit", "alone", "value", "measured"),
    [
        ("deg", "°", "12.3°", "12.35 ± 0.10°"),
        ("sigma", "σ", "12.35 σ", "12.35 ± 0.10 σ"),
        ("dB/octave", "dB/Oktave", "12.3 dB/Oktave", "12.35 ± 0.10 dB/Oktave"),
        ("dB", "dB", "12.3 dB", "12.35 ± 0.10 dB"),
        ("ratio", "", "12.35", "12.35 ± 0.10"),
        ("s", "s", "12.3 s", "12.35 ± 0.10 s"),
    ],
)
def test_units_on_german_paper(unit: str, alone: str, value: str, measured: str) -> None:
    assert unit_on_paper(GERMAN, unit) == alone
    assert quantity_on_paper(GERMAN, 12.347, unit) == value
    assert measured_on_paper(GERMAN, 12.347, unit, 0.1) == measured


def test_the_phase_of_the_impedance_is_drawn_and_judged_in_degrees(story: Story) -> None:
    cause = Cause("impedance_phase", "above", -3.25, "deg", 80.0, 2.0, "It is outside.")
    assert "3,2° über der Grenze bei 80 Hz." in cause_words(GERMAN, cause)
    page = seen(comparison((story.built.run,), ("impedance_phase",), GERMAN, Paper.A4))
    assert " ° " in page
    assert "σ" in page  # the numbers' table has the distances from the production


def test_an_advice_without_a_translation_stays_as_it_was_written(story: Story) -> None:
    limits = story.failed.limits
    assert limits is not None
    untranslated = limits.model_copy(update={"translations": {}})
    step = story.failed.run.judgement.next_step
    german = rework_card(replace(story.failed, limits=untranslated), GERMAN, Paper.A4, (), "")
    assert step in seen(german)
    assert limits.translations["de"][step] in seen(
        rework_card(story.failed, GERMAN, Paper.A4, (), "")
    )


def test_a_fail_without_an_advice_and_with_a_likely_cause_of_its_rub(story: Story) -> None:
    cause = Cause("rub", "above", -6.0, "dB", 80.0, 2.0, "rub is 6.0 dB above its band at 80 Hz.")
    missing = Cause(
        "fs", "missing", math.nan, "", None, 1.0,
        "The impedance has no peak where the resonance should be.",
        "Check that the driver is connected and moves freely.",
    )  # fmt: skip
    judgement = Judgement(
        Verdict.FAIL, (cause, missing), f"Set the unit aside for rework. {cause.happened}"
    )
    heard = RubCause("coil_rub", {"coil_rub": 0.85, "loose_part": 0.15})
    facts = replace(
        story.failed,
        run=replace(story.failed.run, judgement=with_likely_cause(judgement, heard)),
    )
    page = seen(rework_card(facts, MADE_UP, Paper.A4, (), ""))
    assert plain_words(page, facts.run.setup.station_name) == set()
    english = seen(rework_card(facts, language("en"), Paper.A4, (), ""))
    assert "Rub and buzz: 6.0 dB above the limit at 80 Hz, most likely coil rub (85 %)." in english
    german = seen(rework_card(facts, GERMAN, Paper.A4, (), ""))
    assert "höchstwahrscheinlich eine streifende Schwingspule (85 %)" in german
    assert "Prüfen, ob das Chassis angeschlossen ist und sich frei bewegt." in german


def test_label_and_comparison(story: Story) -> None:
    runs = (story.built.run, story.repaired.run)
    for page in (
        label(story.repaired, MADE_UP),
        comparison(runs, common_curves(runs), MADE_UP, Paper.A4),
    ):
        assert plain_words(seen(page)) == set()


def test_the_shift_report(story: Story) -> None:
    log, day = story.works.log, datetime(2026, 11, 25, tzinfo=UTC)
    kinds = (
        CauseKind(Verdict.FAIL, "level.tweeter", "below", ""),
        CauseKind(Verdict.VOID, "microphone", "untrusted", "An input was overloaded."),
        CauseKind(Verdict.VOID, "room", "untrusted", ""),
        CauseKind(Verdict.VOID, "recording", "untrusted", ""),
        CauseKind(
            Verdict.VOID, "recording", "untrusted", "The recording is shorter than the sweep."
        ),
    )
    model = ModelSummary("Tarn 2", 3, 4, 2, 2, 1, 0)
    summary = ShiftSummary((model,), tuple((kind, 1) for kind in kinds))

    def page(language: Language, left: LeftOut) -> str:
        tips = log.tips()
        return seen(shift_page(summary, left, tips, day, day, language, Paper.A4, simulated=True))

    for left in (LeftOut(1, 1, 1, 1), LeftOut(2, 2, 2, 2)):
        assert plain_words(page(MADE_UP, left)) == set()
    german = page(GERMAN, LeftOut(trials=2, service=1, check=2))
    assert "keine Fertigung: 1 Messung im Service, 2 Messungen von Referenzgeräten, 2 " in german
    assert "Mikrofon: Ein Eingang war übersteuert." in german
    english = page(language("en"), LeftOut(gauge=12))
    assert "Left out, being no production: 12 runs of gauge studies." in english
    assert "Microphone: An input was overloaded." in english
    assert "Left out" not in page(language("en"), LeftOut())


def every_suspect() -> Iterable[Suspect]:
    """Yield a suspect of every kind and fault, with a value and without."""
    units = {
        Found.MOTOR: "T·m", Found.MASS: "kg", Found.SUSPENSION: "N/m", Found.LOSSES: "N·s/m",
        Found.SHORTED_TURNS: "ratio", Found.LEVEL: "dB", Found.BIAS: "dB",
    }  # fmt: skip
    parts = {
        PartKind.COMPONENT: "C2", PartKind.DRIVER: "woofer", PartKind.TRANSFORMER: "T1",
        PartKind.PANEL: "panel", PartKind.OTHER: "woofer's box",
    }  # fmt: skip
    measured = {Found.VALUE, Found.RESISTANCE, Found.CONTACT, *units}
    for kind, part in parts.items():
        for found in Found:
            beside = "C1" if found is Found.SWAPPED else ""
            unit = units.get(found, "Ω")
            if found is Found.SHORTED_TURNS and kind is not PartKind.DRIVER:
                unit = "H"  # of a winding the inductance is told
            estimate = Estimate(0.22, 0.001, 0.15, 0.05, unit) if found in measured else None
            yield Suspect(part, "", kind, found, 0.9, estimate, beside)
    for part in ("loose part", "terminals", "cable", "station"):
        yield Suspect(part, "", PartKind.OTHER, Found.LEAK, 0.9)


@pytest.mark.parametrize("suspect", list(every_suspect()), ids=lambda s: f"{s.part}-{s.found}")
def test_every_suspect(suspect: Suspect) -> None:
    tell = MADE_UP.text
    told = (
        suspect_words(suspect, tell), check_words(suspect, tell), suspected_words(suspect, tell),
    )  # fmt: skip
    assert plain_words(" ".join(told), "C2 C1 T1 mΩ s") == set()


def test_every_finding() -> None:
    several = tuple(every_suspect())[:3]
    for diagnosis in (
        Diagnosis(Finding.NOTHING),
        Diagnosis(Finding.NOT_ONE_PART, several, 3),
        Diagnosis(Finding.SUSPECTS, several, 3),
    ):
        rows, about = suspect_rows(diagnosis, MADE_UP)
        told = " ".join((about, *(f"{row.part} {row.why} {row.next_check}" for row in rows)))
        assert plain_words(told, "C2") == set()


def test_no_line_ends_between_a_number_and_its_unit() -> None:
    told = "631 Hz (99 %), 13.6 Ω ± 5 %, 0.2 mH, Tarn 2 is, 20.0 °C"
    kept = "631\u00a0Hz (99\u00a0%), 13.6\u00a0Ω ± 5\u00a0%, 0.2\u00a0mH, Tarn 2 is, 20.0\u00a0°C"
    assert unbroken(told) == kept
