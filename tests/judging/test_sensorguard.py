"""What is off alike everywhere is a sensor's; what is off in one place is the unit's."""

from __future__ import annotations

import math

import numpy as np
import pytest

from station.analysis.readings import Number
from station.judging.verdicts.sensorguard import without_the_sensors
from station.judging.verdicts.verdict import AppliedBand, Cause, Judgement, Verdict

OCTAVES_HZ = 100.0 * 2.0 ** np.arange(8)


def failed(*names: str, impedance_ohm: list[float] | None = None) -> Judgement:
    causes = tuple(Cause(name, "below", -0.3, "dB", None, 1.0, f"{name} is out.") for name in names)
    bands = {}
    if impedance_ohm is not None:
        middle = np.full(8, 8.0)
        bands["impedance"] = AppliedBand(
            OCTAVES_HZ, np.array(impedance_ohm), middle - 0.3, middle + 0.3, np.ones(8), "Ω"
        )
    return Judgement(Verdict.FAIL, causes, "Rework.", {}, bands)


def levels(woofer_db: float, tweeter_db: float) -> dict[str, Number]:
    return {
        "level.woofer": Number(woofer_db, "dB"),
        "level.tweeter": Number(tweeter_db, "dB"),
        "sensitivity": Number(86.0, "dB"),
    }


def test_sections_too_quiet_alike_are_the_microphones() -> None:
    fail = failed("response", "sensitivity", "level.woofer", "pattern.modes")
    judgement = without_the_sensors(fail, levels(-1.1, -0.9))
    assert judgement.verdict is Verdict.VOID
    (cause,) = judgement.causes
    assert cause.reading == "microphone"
    assert "quieter alike, by 1.0 dB" in cause.happened
    assert "calibrate" in judgement.next_step


@pytest.mark.parametrize(
    ("woofer_db", "tweeter_db"),
    [(-1.0, -0.1), (-1.0, 0.9), (0.0, 0.0)],
    ids=["one section", "opposite", "none"],
)
def test_sections_that_differ_are_the_units(woofer_db: float, tweeter_db: float) -> None:
    fail = failed("response")
    assert without_the_sensors(fail, levels(woofer_db, tweeter_db)) is fail


def test_one_section_alone_tells_nothing() -> None:
    fail = failed("level.woofer")
    assert without_the_sensors(fail, {"level.woofer": Number(-1.0, "dB")}) is fail


def test_what_else_fails_is_the_units() -> None:
    fail = failed("level.woofer", "rub")
    assert without_the_sensors(fail, levels(-1.0, -1.0)) is fail


def test_an_impedance_off_alike_at_all_frequencies_is_the_current_inputs() -> None:
    ohm = [8.9, 8.95, 8.98, 9.0, 9.0, 8.97, 8.95, 8.99]
    judgement = without_the_sensors(failed("impedance", "impedance_min", impedance_ohm=ohm), {})
    assert judgement.verdict is Verdict.VOID
    assert judgement.causes[0].reading == "current"
    assert "higher at all frequencies alike, by 12 %" in judgement.causes[0].happened


@pytest.mark.parametrize(
    "ohm",
    [
        [7.5, 7.5, 7.5, 7.6, 7.8, 7.9, 8.0, 8.0],  # as shorted turns do
        [8.9, 8.9, 8.9, 8.9, 8.9, 8.9, 8.9, 7.9],  # lower where all else is higher
    ],
)
def test_an_impedance_off_in_one_place_is_the_units(ohm: list[float]) -> None:
    fail = failed("impedance", impedance_ohm=ohm)
    assert without_the_sensors(fail, {}) is fail


def test_a_resonance_that_moved_is_the_units_however_the_impedance_lies() -> None:
    fail = failed("impedance", "fs", impedance_ohm=[9.0] * 8)
    assert without_the_sensors(fail, {}) is fail


def test_an_open_band_tells_nothing() -> None:
    fail = failed("impedance", impedance_ohm=[9.0] * 8)
    band = fail.bands["impedance"]
    open_band = AppliedBand(
        band.frequency_hz, band.values, band.lower, np.full(8, math.inf), band.outside, "Ω"
    )
    unbounded = Judgement(Verdict.FAIL, fail.causes, "Rework.", {}, {"impedance": open_band})
    assert without_the_sensors(unbounded, {}) is unbounded


def test_a_pass_stays_one() -> None:
    good = Judgement(Verdict.PASS, (), "Pack it.")
    assert without_the_sensors(good, levels(-1.0, -1.0)) is good
