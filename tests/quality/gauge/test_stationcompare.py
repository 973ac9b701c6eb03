from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.analysis.readings import Curve, Number, Readings
from station.errors import RefusedInputError
from station.judging.verdicts.verdict import Verdict
from station.quality.gauge.stations import station_comparison
from station.records.kept.run import Run
from tests.quality.production import HOUSE
from tests.records.example import example_run, with_verdict

HZ = np.array([100.0, 300.0, 1000.0])


def on(station: str, level_db: float, tilt_db: float = 0.0) -> Run:
    """Return a passed run of the reference unit on a station."""
    run = example_run(
        readings=Readings(
            {"sensitivity": Number(level_db, "dB")},
            {"response": Curve(HZ, level_db + tilt_db * np.array([0.0, 0.5, 1.0]), "dB")},
        ),
        setup=replace(HOUSE, station_name=station),
    )
    return with_verdict(run, Verdict.PASS)


def test_stations_that_read_a_unit_differently_are_found() -> None:
    # By hand: means 86.0 and 86.4, each ± 0.1 about its mean: within 0.04 / 2 = 0.02, between
    # 2 · (0.2² + 0.2²) / 1 = 0.16, F = 8; variance between (0.16 − 0.02) / 2 = 0.07.
    runs = [on("east", 85.9), on("east", 86.1), on("west", 86.3, 1.0), on("west", 86.5, 1.0)]
    found = station_comparison("T2A00000", runs)
    (number,) = found.numbers
    assert number.means == pytest.approx({"east": 86.0, "west": 86.4})
    assert number.analysis.f_ratio == pytest.approx(8.0)
    assert number.analysis.between_variance == pytest.approx(0.07)
    (curve,) = found.curves
    assert (curve.largest, curve.at_hz) == pytest.approx((1.4, 1000.0), abs=1e-4)
    assert curve.between == ("east", "west")


def test_voids_trials_and_lone_stations_do_not_count() -> None:
    lonely = [on("east", 86.0), on("east", 86.1), on("west", 86.2)]
    void = with_verdict(on("west", 80.0), Verdict.VOID)
    trial = replace(on("west", 80.0), trial=True)
    with pytest.raises(RefusedInputError, match="runs are: east 2, west 1"):
        station_comparison("T2A00000", [*lonely, void, trial])
