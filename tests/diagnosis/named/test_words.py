"""What the technician reads."""

from __future__ import annotations

import math

import pytest

from station.diagnosis.named.standardvalues import E12, E24, nearest_standard
from station.diagnosis.named.suspect import Diagnosis, Estimate, Finding, Found, PartKind, Suspect
from station.diagnosis.named.words import (
    blind_words,
    check_words,
    summary_words,
    suspect_line,
    suspect_words,
    value_words,
)


def component(found: Found, estimate: Estimate | None = None, beside: str = "") -> Suspect:
    kind = PartKind.COMPONENT
    return Suspect("C2", "the capacitor", kind, found, 0.96, estimate, beside)


def driver(found: Found, estimate: Estimate | None = None) -> Suspect:
    return Suspect("woofer", "the woofer", PartKind.DRIVER, found, 0.96, estimate)


@pytest.mark.parametrize(
    ("suspect", "words"),
    [
        (
            component(Found.VALUE, Estimate(6.1e-6, 0.02e-6, 6.8e-6, 0.05, "F")),
            "C2 reads 6.10 µF, nominal 6.8 µF ± 5 %",
        ),
        (
            component(Found.VALUE, Estimate(5.57e-6, 0.05e-6, 4.7e-6, 0.05, "F")),
            "C2 reads 5.57 µF, nominal 4.7 µF ± 5 %; a part of 5.6 µF would read so",
        ),
        (component(Found.OPEN), "C2 seems open"),
        (component(Found.BRIDGED), "C2 seems bridged"),
        (driver(Found.OPEN), "The woofer seems open"),
        (
            component(Found.SWAPPED, beside="C1"),
            "C2 and C1 seem to stand in each other's place",
        ),
        (
            driver(Found.MOTOR, Estimate(5.6, 0.05, 7.0, 0.045, "T·m")),
            "The force factor of the woofer is 5.60 T·m, nominal 7 T·m ± 4.5 %",
        ),
        (
            driver(Found.MASS, Estimate(0.022, 0.0002, 0.0165, 0.04, "kg")),
            "The moving mass of the woofer is 22.0 g, nominal 16.5 g ± 4 %",
        ),
        (
            driver(Found.SHORTED_TURNS, Estimate(0.12, 0.01, 0.0, math.nan, "ratio")),
            "About 12 % of the turns of the woofer seem shorted",
        ),
        (
            Suspect("panel", "the panel", PartKind.PANEL, Found.BIAS, 0.9,
                    Estimate(-5.2, 0.4, 0.0, math.nan, "dB")),
            "The panel is 5.2 dB quieter while its impedance is right: its bias is low or missing",
        ),
        (driver(Found.REVERSED), "The leads of the woofer are reversed"),
    ],
)  # fmt: skip
def test_a_suspect_is_described(suspect: Suspect, words: str) -> None:
    assert suspect_words(suspect) == words


@pytest.mark.parametrize(
    ("suspect", "words"),
    [
        (component(Found.VALUE), "Unsolder one end of C2 and measure it."),
        (driver(Found.MOTOR), "Disconnect the woofer and measure it alone."),
        (driver(Found.REVERSED), "Swap red and black at the woofer."),
    ],
)
def test_the_next_check_is_said(suspect: Suspect, words: str) -> None:
    assert check_words(suspect) == words


@pytest.mark.parametrize("found", list(Found))
@pytest.mark.parametrize("kind", list(PartKind))
def test_every_suspect_has_a_reason_and_a_check(found: Found, kind: PartKind) -> None:
    suspect = Suspect("X1", "a part", kind, found, 0.5, None, "X2")
    for words in (suspect_words(suspect), check_words(suspect)):
        assert words
        assert "{" not in words


@pytest.mark.parametrize("found", [Found.BIAS, Found.ARCING])
def test_who_must_open_a_panel_is_warned(found: Found) -> None:
    suspect = Suspect("panel", "the panel", PartKind.PANEL, found, 0.9)
    assert "High voltage" in check_words(suspect)


def test_the_line_names_who_else_it_may_be() -> None:
    told = Diagnosis(Finding.SUSPECTS, (component(Found.OPEN), driver(Found.OPEN)), 2)
    assert suspect_line(told).startswith("C2 seems open (96 %), or woofer. ")


def test_the_line_does_not_blame_one_part_for_two() -> None:
    told = Diagnosis(Finding.NOT_ONE_PART, (component(Found.OPEN),), 1)
    assert suspect_line(told).endswith("More than one part may be wrong.")
    assert "No single part" in summary_words(told)


def test_nobody_suspected_leaves_no_line() -> None:
    assert suspect_line(Diagnosis(Finding.NOTHING)) == ""


def test_blind_spots_are_gathered_by_part() -> None:
    told = Diagnosis(Finding.NOTHING, blind=(("tweeter", "its mass"), ("tweeter", "its losses")))
    assert blind_words(told) == "Hardly shows in the impedance: tweeter: its mass, its losses."


def test_values_have_the_prefix_people_write() -> None:
    assert value_words(4.7e-6, "F") == "4.70 µF"
    assert value_words(0.66e-3, "H") == "660 µH"
    assert value_words(9.2e-6, "H") == "9.20 µH"
    assert value_words(830.0, "N/m") == "0.830 N/mm"
    assert value_words(0.0, "Ω") == "0 Ω"


def test_standard_values_are_those_of_the_standard() -> None:
    # IEC 60063:2015, E12 and E24
    assert tuple(sorted(E12)) == E12
    assert set(E12) <= set(E24)
    assert nearest_standard(5.57e-6) == pytest.approx(5.6e-6)
    assert nearest_standard(9.5) == pytest.approx(10.0)
    assert nearest_standard(9.0, E24) == pytest.approx(9.1)
    with pytest.raises(ValueError, match="above zero"):
        nearest_standard(0.0)
