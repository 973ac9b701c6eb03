"""A certificate says what was stored, in its language, on its paper, and scanners can read it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from station.errors import RefusedInputError
from station.judging.tables.tables import NumberTable
from station.judging.verdicts.verdict import Conformity, Decision, Verdict
from station.reports.certificate import certificate
from station.reports.label import label
from station.reports.pdf import pdf_of
from station.reports.reworkcard import SuspectRow, rework_card
from station.reports.sheet import Paper
from station.reports.translations import language
from station.reports.unitfacts import facts_for
from tests.reports.conftest import PARTNER, UNIT, Story
from tests.reports.reading import codes_in, pictures_of, sizes_mm, text_of

ENGLISH, GERMAN = language("en"), language("de")
OUTSIDE = re.compile(r"""(?:src|href|url)\s*[=(]\s*["']?(?!\s*#)[^)"']*""")


@pytest.fixture(scope="module")
def english_pdf(story: Story, pdf_libraries: None) -> bytes:
    return pdf_of(certificate(story.repaired, ENGLISH, Paper.A4))


def test_the_text_of_the_pdf_is_found_by_searching(story: Story, english_pdf: bytes) -> None:
    found = text_of(english_pdf)
    run = story.repaired.run
    sensitivity = run.readings.numbers["sensitivity"]
    for words in (
        "Test certificate", UNIT, "Tarn 2", "PASS", "SIMULATED",
        f"{sensitivity.value:.3f}"[:6], "Frequency response", "Resonance frequency",
        "Limits of revision A: tarn2.toml", "stored with its production",
        "Microphone: not calibrated", run.run_id,
        "No treble <since> it fell & broke.", "lot 7", "Now against as built",
        f"Partner of the pair, {PARTNER}", "Inside the limits for a unit as built.",
    ):  # fmt: skip
        assert words in found
    assert story.repaired.place.hash in found.replace(" ", "")


@pytest.mark.usefixtures("pdf_libraries")
def test_the_certificate_in_german_writes_numbers_as_german_does(story: Story) -> None:
    found = text_of(pdf_of(certificate(story.repaired, GERMAN, Paper.LETTER)))
    sensitivity = story.repaired.run.readings.numbers["sensitivity"]
    for words in (
        "Prüfzeugnis", "BESTANDEN", "SIMULIERT", "Kennschalldruckpegel", "Frequenzgang",
        f"{sensitivity.value:.3f}"[:6].replace(".", ","), "25. Nov. 2026", "Hochtöner",
        "mit seiner Fertigung gespeicherten",
    ):  # fmt: skip
        assert words in found
    assert not re.search(r"\d\.\d+ (dB|Hz|Ω)", found)


def test_scanners_read_the_codes_of_every_paper(story: Story, english_pdf: bytes) -> None:
    run, place = story.repaired.run, story.repaired.place
    expected = {
        "QR Code": f"{run.serial}\nrun {run.run_id}\nhash {place.hash[:16]}",
        "Code 128": run.serial,
    }
    small = pdf_of(label(story.repaired, ENGLISH))
    for pdf in (english_pdf, small):
        found = codes_in(pictures_of(pdf)[0].convert("1"))  # black and white, no grey
        assert {name.replace("Code128", "Code 128").replace("QRCode", "QR Code"): text
                for name, text in found.items()} == expected  # fmt: skip
    assert len(pictures_of(small)) == 1


@pytest.mark.usefixtures("pdf_libraries")
# ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: A (letter) is 8.5 x 11 in.
@pytest.mark.parametrize(
    ("paper", "size_mm"), [(Paper.A4, (210.0, 297.0)), (Paper.LETTER, (215.9, 279.4))]
)
def test_pages_have_the_size_of_the_paper(
    story: Story, paper: Paper, size_mm: tuple[float, float]
) -> None:
    sizes = sizes_mm(pdf_of(certificate(story.built, ENGLISH, paper)))
    assert 1 <= len(sizes) <= 2
    for size in sizes:
        assert size == pytest.approx(size_mm, abs=0.1)


def test_the_page_points_at_nothing_outside(story: Story) -> None:
    for page in (
        certificate(story.repaired, GERMAN, Paper.A4),
        rework_card(story.failed, ENGLISH, Paper.A4, (), "None."),
        label(story.repaired, ENGLISH),
    ):
        assert not OUTSIDE.findall(page)
        without_names = page.replace('xmlns="http://www.w3.org/2000/svg"', "")
        assert "http" not in without_names
        assert "<script" not in page


@pytest.mark.usefixtures("pdf_libraries")
def test_the_same_run_makes_the_same_pdf(story: Story) -> None:
    page = certificate(story.built, ENGLISH, Paper.A4)
    assert page == certificate(story.built, ENGLISH, Paper.A4)
    assert pdf_of(page) == pdf_of(page)


def test_a_decision_rule_is_named_with_both_kinds_of_limits_and_the_risk(story: Story) -> None:
    run = story.built.run
    found = Conformity(0.1, 0.2, 0.995, "dB", None, (85.9, 87.4))
    decision = Decision("guarded", 2.0, 1.0, {"sensitivity": found})
    judged = replace(run, judgement=replace(run.judgement, decision=decision))
    table = NumberTable(reading="sensitivity", lower=85.9, upper=87.4, scale=1.0)
    assert story.built.limits is not None
    limits = story.built.limits.model_copy(update={"numbers": (table,)})
    page = certificate(replace(story.built, run=judged, limits=limits), ENGLISH, Paper.A4)
    page = page.replace("\u00a0", " ")
    assert "Acceptance limits lie 1 × U inside the tolerance limits (JCGM 106; k = 2)." in page
    # 85.9 and 87.4 dB moved inside by 0.2 dB each
    assert "86.1 dB … 87.2 dB (tolerance 85.9 dB … 87.4 dB)" in page
    assert "Consumer&#39;s risk: 0.5 % by Sensitivity." in page


@pytest.mark.usefixtures("pdf_libraries")
def test_a_rework_card_has_causes_suspects_and_room_to_write(story: Story) -> None:
    suspects = (SuspectRow("tweeter", "Its branch is open.", "Measure its coil."),)
    found = text_of(pdf_of(rework_card(story.failed, ENGLISH, Paper.A4, suspects, "")))
    for words in (
        "Rework card", "FAIL", "Tweeter silent", "Level, tweeter", "below the limit",
        "Its branch is open.", "Measure its coil.", "as built", "Done to the unit", "lot 7",
    ):  # fmt: skip
        assert words in found
    none = rework_card(story.failed, GERMAN, Paper.A4, (), "Kein Teil genannt.")
    assert "Kein Teil genannt." in none
    assert "unter der Grenze" in none


def test_paper_is_refused_for_the_other_verdict(story: Story) -> None:
    log, sources = story.works.log, story.sources
    assert facts_for(log, sources, UNIT, Verdict.PASS).run.run_id == story.repaired.run.run_id
    with pytest.raises(RefusedInputError, match=r"newest run of T2A00301 is a PASS.*certificate"):
        facts_for(log, sources, UNIT, Verdict.FAIL)
    with pytest.raises(RefusedInputError, match="no run of 'X'"):
        facts_for(log, sources, "X", Verdict.PASS)
