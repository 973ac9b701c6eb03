"""Decision rules, mistaken models and sensors that are off: many at once as one by one."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from station.analysis.measure import Measured
from station.analysis.readings import Curve, Number, Readings
from station.judging.files.limit_file import limit_file_from_text
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.judge import judge
from station.judging.verdicts.sensorguard import without_the_sensors
from station.judging.verdicts.verdict import Verdict
from station.quality.judged.manyunits import VERDICTS, as_the_line, judged_units
from station.records.columns.columns import columns_of
from tests.judging.example import LIMITS
from tests.quality.manyunits import RESPONSE_HZ

TWO_SECTIONS = (
    LIMITS.replace(
        '[[readings.sections]]\nname = "woofer"',
        "[readings.impedance]\nfrom_hz = 100.0\nto_hz = 10000.0\nbands_per_octave = 3\n"
        "gate_s = 0.2\nminimum_from_hz = 100.0\nminimum_to_hz = 10000.0\n\n"
        '[[readings.sections]]\nname = "tweeter"\nfrom_hz = 3000.0\nto_hz = 10000.0\n\n'
        '[[readings.sections]]\nname = "woofer"',
    )
    .replace(
        "[[advice]]",
        """\
[[bands]]
reading = "impedance"
mode = "absolute"
scale = 0.3
points = [[100.0, 5.9, 7.1], [10000.0, 5.9, 7.1]]

[[numbers]]
reading = "level.woofer"
lower = -1.0
upper = 1.0
scale = 1.0

[[numbers]]
reading = "level.tweeter"
lower = -1.0
upper = 1.0
scale = 1.0

[[numbers]]
reading = "impedance_min"
lower = 5.0
scale = 0.2

[[advice]]
when = [{ reading = "impedance", side = "above", share = 0.9, by = 20.0 }]
say = "This is not a Tarn 2: compare the label."
void = true

[[advice]]""",
        1,
    )
    .replace("db = [-30.0, -30.0]", "db = [-17.0, -17.0]")
)
DECISION = """
[decision]
rule = "guarded"
k = 2.0
r = 0.8

[[decision.uncertainties]]
reading = "response"
points = [[200.0, 0.1], [5000.0, 0.3]]

[[decision.uncertainties]]
reading = "level.woofer"
standard = 0.15

[[decision.uncertainties]]
reading = "sensitivity"
of_run = true
"""
PLAIN = limit_file_from_text(TWO_SECTIONS, "x.toml")
GUARDED = limit_file_from_text(TWO_SECTIONS + DECISION, "x.toml")
SIMPLE = limit_file_from_text(
    TWO_SECTIONS + DECISION.replace('"guarded"', '"simple"').replace("r = 0.8\n", ""), "x.toml"
)


def drawn(rng: np.random.Generator) -> Readings:
    """Return a unit that may be quiet as a whole, high in impedance as a whole, or absent."""
    quiet_db = rng.choice([0.0, -1.6, 1.4], p=[0.6, 0.2, 0.2])
    ratio = rng.choice([1.0, 1.25, 0.75, 60.0], p=[0.6, 0.15, 0.15, 0.1])
    own = 0.5 * rng.standard_normal(2)
    impedance = 6.5 * ratio * (1.0 + 0.02 * rng.standard_normal(RESPONSE_HZ.size))
    response = 86.0 + quiet_db + 0.6 * rng.standard_normal(RESPONSE_HZ.size)
    uncertainty = float(rng.choice([0.1, 0.9, np.nan], p=[0.8, 0.1, 0.1]))
    numbers = {
        "sensitivity": Number(86.0 + quiet_db + 0.3 * rng.standard_normal(), "dB", uncertainty),
        "polarity.woofer": Number(0.99, "ratio"),
        "level.woofer": Number(float(quiet_db + own[0]), "dB"),
        "level.tweeter": Number(float(quiet_db + own[1]), "dB"),
        "impedance_min": Number(5.8 * float(ratio), "Ω"),
    }
    return Readings(
        numbers,
        {
            "response": Curve(RESPONSE_HZ, response, "dB"),
            "impedance": Curve(RESPONSE_HZ, impedance, "Ω"),
        },
    )


@pytest.mark.parametrize("limits", [PLAIN, GUARDED, SIMPLE], ids=["plain", "guarded", "simple"])
def test_the_line_would_say_the_same_of_every_unit(limits: LimitFile) -> None:
    rng = np.random.default_rng(21)
    readings = [drawn(rng) for _ in range(600)]
    units = columns_of(readings)
    many = judged_units(units, limits)
    line = as_the_line(units, limits, many, np.zeros(units.count, dtype=np.bool_))
    seen: Counter[tuple[Verdict, Verdict]] = Counter()
    for row, unit in enumerate(readings):
        one = judge(Measured(unit, ()), limits)
        told = without_the_sensors(one, unit.numbers)
        assert VERDICTS[many.codes[row]] is one.verdict
        assert VERDICTS[line.codes[row]] is told.verdict
        if told.verdict is Verdict.FAIL:
            assert line.cause_names[line.first_cause[row]] == told.causes[0].reading
            assert line.severity[row] == told.causes[0].severity
        seen[one.verdict, told.verdict] += 1
    assert seen[Verdict.FAIL, Verdict.VOID] > 20  # a sensor
    assert seen[Verdict.VOID, Verdict.VOID] > 20  # another model, or too uncertain
    assert seen[Verdict.FAIL, Verdict.FAIL] > 20
    assert seen[Verdict.PASS, Verdict.PASS] > 20


def test_a_guard_band_fails_what_lies_within_it() -> None:
    good = drawn(np.random.default_rng(0))
    flat = {
        "response": Curve(RESPONSE_HZ, np.full(RESPONSE_HZ.size, 86.0), "dB"),
        "impedance": Curve(RESPONSE_HZ, np.full(RESPONSE_HZ.size, 6.5), "Ω"),
    }
    numbers = {
        **good.numbers,
        "sensitivity": Number(86.0, "dB", 0.1),
        "level.woofer": Number(0.9, "dB"),  # within 0.8 x 2 x 0.15 dB = 0.24 dB of its limit
        "level.tweeter": Number(-0.5, "dB"),
        "impedance_min": Number(5.8, "Ω"),
    }
    units = columns_of([replace(good, numbers=numbers, curves=flat)])
    assert VERDICTS[judged_units(units, PLAIN).codes[0]] is Verdict.PASS
    assert VERDICTS[judged_units(units, SIMPLE).codes[0]] is Verdict.PASS
    assert VERDICTS[judged_units(units, GUARDED).codes[0]] is Verdict.FAIL
