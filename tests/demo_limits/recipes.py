"""Which limits each demo model gets, and how wide they are made."""

from __future__ import annotations

from dataclasses import dataclass

from tests.demo_limits.envelopes import Rarity, Widening

USUAL = Rarity()
FAILS = 'absent = "fail"\n'  # what only a faulty unit lacks


@dataclass(frozen=True, slots=True)
class CurveRule:
    """How the band of one curve is made."""

    reading: str
    mode: str
    widening: Widening
    per_octave: int
    scale: float
    sides: str = "both"


@dataclass(frozen=True, slots=True)
class NumberRule:
    """How the limits of one number are made; `more` is written below them as it is."""

    reading: str
    widening: Widening
    scale: float
    more: str = ""
    sides: str = "both"


@dataclass(frozen=True, slots=True)
class Recipe:
    """One model; `explained_ratio` is the share of its response's spread that modes explain.

    One good unit in `one_pattern` may lie further from the population than the limits of the
    pattern, by modes and by the rest each.
    """

    name: str
    prefix: str
    curves: tuple[CurveRule, ...]
    numbers: tuple[NumberRule, ...]
    sections: tuple[str, ...]
    explained_ratio: float
    one_pattern: float = 1e4
    patterns: tuple[str, ...] = ("pattern.modes", "pattern.rest")
    fixed: str = ""  # limits that need no units
    rarity: Rarity = USUAL
    units: int = 300  # that the limits are learned from


# Noise decides these two, and noise has a long tail upwards in dB: ten units' worth of it.
THD = CurveRule("thd", "absolute", Widening(4.0, 0.5, noisy=True), 1, 3.0, "upper")
RUB = CurveRule("rub", "absolute", Widening(4.0, 0.5, noisy=True), 1, 3.0, "upper")
RESPONSE = CurveRule("response", "relative", Widening(0.5, 0.1), 3, 1.0)
# |Z| is steep beside a resonance: between few breakpoints the band would be wide there.
IMPEDANCE = CurveRule("impedance", "absolute", Widening(0.05, 0.01), 12, 0.3)

# A mean over both sections, each of which has limits of its own: wide, against rejects by chance.
SENSITIVITY = NumberRule("sensitivity", Widening(1.0, 0.1), 1.0)
FS = NumberRule("fs", Widening(1.0, 0.1), 2.0, FAILS)
QTS = NumberRule("qts", Widening(0.01, 0.005), 0.05, FAILS)
MINIMUM = NumberRule("impedance_min", Widening(0.05, 0.01), 0.2)
MINIMUM_HZ = NumberRule("impedance_min_hz", Widening(200.0, 10.0), 300.0)
PANEL_F = NumberRule("panel_capacitance", Widening(2e-11, 1e-12), 5e-11, FAILS)
LEAKAGE_H = NumberRule("leakage_inductance", Widening(2e-7, 1e-8), 5e-7, FAILS)
CORNER = NumberRule("filter_corner", Widening(1.0, 0.1), 3.0, FAILS)
SLOPE = NumberRule("filter_slope", Widening(2.0, 0.1), 2.0, FAILS)
IDLE_NOISE = NumberRule("idle_noise", Widening(3.0, 0.5), 3.0, sides="upper")
HUM = NumberRule("hum", Widening(3.0, 0.5), 3.0, sides="upper")
LEVEL = Widening(0.4, 0.1)
SETTLES = "settles_within = 0.2\n# a bias that was just switched on still lifts the level\n"

RATED = """\
# IEC 60268-5: |Z| nowhere below 80 % of the rated 6 Ω
[[numbers]]
reading = "impedance_margin"
lower = 0.0
scale = 0.1
"""

RECIPES = (
    Recipe(
        "tarn2",
        "T2A",
        (RESPONSE, THD, RUB, IMPEDANCE),
        (SENSITIVITY, FS, QTS, MINIMUM,
         NumberRule("level.woofer", LEVEL, 1.0), NumberRule("level.tweeter", LEVEL, 1.0)),
        ("woofer", "tweeter"),
        0.95,
        fixed=RATED,
    ),
    Recipe(
        "fell60",
        "F6A",
        (RESPONSE, THD, RUB, IMPEDANCE),
        (SENSITIVITY, FS, QTS, MINIMUM, MINIMUM_HZ, PANEL_F, LEAKAGE_H,
         NumberRule("level.woofer", LEVEL, 1.0), NumberRule("level.panel", LEVEL, 1.0, SETTLES)),
        ("woofer", "panel"),
        0.95,
        # More readings than the others, each of which may reject: rarer, and better known.
        rarity=Rarity(2e-5, 5.5),
        units=600,
    ),
    Recipe(
        "scree12",
        "S12A",
        (RESPONSE, THD, RUB),
        (SENSITIVITY, CORNER, SLOPE, IDLE_NOISE, HUM, NumberRule("level.woofer", LEVEL, 1.0)),
        ("woofer",),
        0.98,
        1e6,
        ("pattern.modes",),  # a bang moves the rest, and at the bass nothing tells it from the unit
    ),
)  # fmt: skip
