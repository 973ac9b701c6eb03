"""Colours survive a 256-colour terminal and eyes that see fewer of them."""

from __future__ import annotations

import itertools

import pytest

from station.screens.line.outcome import Kind
from station.screens.line.verdictpanel import LOOKS
from station.screens.shared import palette

COLOURS = {name: value for name, value in vars(palette).items() if name.isupper()}


def relative_luminance(colour: str) -> float:
    # WCAG 2.2, definition of relative luminance
    channels = [int(colour[start : start + 2], 16) / 255.0 for start in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    # WCAG 2.2, definition of contrast ratio
    light, dark = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("colour", COLOURS.values(), ids=COLOURS)
def test_every_colour_is_one_of_the_256(colour: str) -> None:
    # common practice: a cube of six steps a channel, and 24 greys from 8 in steps of 10
    channels = tuple(int(colour[start : start + 2], 16) for start in (1, 3, 5))
    in_cube = all(channel in (0, 95, 135, 175, 215, 255) for channel in channels)
    is_grey = len(set(channels)) == 1 and channels[0] in range(8, 239, 10)
    assert in_cube or is_grey


@pytest.mark.parametrize("kind", Kind)
def test_every_big_word_stands_out_of_its_ground(kind: Kind) -> None:
    # WCAG 2.2, success criterion 1.4.6 (enhanced): at least 7:1; the idle word is not a message
    least = 4.5 if kind is Kind.SCAN else 7.0
    assert contrast(LOOKS[kind].ink, LOOKS[kind].ground) >= least


def test_verdicts_differ_in_lightness_alone() -> None:
    # WCAG 2.2, success criterion 1.4.11 asks 3:1 of shapes; verdicts also differ in word and
    # frame, so their grounds need less: as grey they must still be told apart
    grounds = [LOOKS[kind].ground for kind in (Kind.PASS, Kind.FAIL, Kind.VOID)]
    for one, other in itertools.combinations(grounds, 2):
        assert contrast(one, other) > 1.5


def test_no_two_verdicts_share_sign_or_frame() -> None:
    looks = [LOOKS[kind] for kind in (Kind.PASS, Kind.FAIL, Kind.VOID, Kind.STATION)]
    assert len({look.sign for look in looks}) == 4
    assert len({look.frame for look in looks}) == 4


@pytest.mark.parametrize("ink", [palette.PLOT_CURVE, palette.PLOT_LIMIT, palette.PLOT_OUTSIDE])
def test_the_curve_stands_out_of_the_band(ink: str) -> None:
    # WCAG 2.2, success criterion 1.4.11: 3:1 for graphics
    assert contrast(ink, palette.PLOT_BAND) >= 3.0
    assert contrast(ink, palette.GROUND) >= 3.0
