from __future__ import annotations

import math

import pytest

from station.judging.words.words import measured_words, quantity_words


@pytest.mark.parametrize(
    ("value", "unit", "uncertainty", "words"),
    [
        # The mass of JCGM 100:2008, 7.2.2; six digits are enough at the line.
        (100.02147, "g", 0.00035, "100.021 ± 0.001 g"),
        (61.23456, "Hz", 0.0123, "61.235 ± 0.012 Hz"),
        (1.00312e-9, "F", 3.1e-12, "1.0031 ± 0.0031 nF"),
        (9.2345e-6, "H", 2e-7, "9.23 ± 0.20 µH"),
        (20123.4, "Hz", 340.0, "20120 ± 340 Hz"),
        (0.712, "ratio", 0.0031, "0.7120 ± 0.0031"),
        (-23.512, "dB/octave", 0.52, "-23.51 ± 0.52 dB/octave"),
    ],
)
def test_value_and_uncertainty_end_at_the_same_place(
    value: float, unit: str, uncertainty: float, words: str
) -> None:
    assert measured_words(value, unit, uncertainty) == words


@pytest.mark.parametrize("uncertainty", [math.nan, 0.0, math.inf])
def test_what_is_not_stated_is_not_told(uncertainty: float) -> None:
    assert measured_words(86.64, "dB", uncertainty) == "86.6 dB"


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (1e-9, "F", "1.00 nF"),
        (9.2e-6, "H", "9.20 µH"),
        (2.94e-3, "s", "2.94 ms"),
        (0.0, "s", "0.00 s"),
        (123e-12, "F", "123 pF"),
        (1e-15, "F", "0.00100 pF"),
        (1.234, "sigma", "1.23 sigma"),
    ],
)
def test_small_units_carry_a_prefix(value: float, unit: str, words: str) -> None:
    assert quantity_words(value, unit) == words
