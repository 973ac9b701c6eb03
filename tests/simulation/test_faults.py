from __future__ import annotations

import math

import pytest

from station.errors import RefusedInputError
from station.simulation.faults import (
    FAULTS,
    FELL,
    SCREE,
    TARN,
    checked_faults,
    fault_names,
    fault_of,
    station_faults,
    unit_faults,
)
from station.simulation.products import fell60, scree12, tarn2
from station.simulation.products.woofer import WOOFER_CHANGES

UNIT_CHANGES = {
    TARN: {*tarn2.CHANGES, *WOOFER_CHANGES},
    FELL: {*fell60.CHANGES, *WOOFER_CHANGES},
    SCREE: {*scree12.CHANGES, *WOOFER_CHANGES},
}


@pytest.mark.parametrize("model", [TARN, FELL, SCREE])
def test_the_table_lists_exactly_what_a_model_can_suffer(model: str) -> None:
    listed = {name for name in fault_names(model) if not name.startswith("station_")}
    assert listed == UNIT_CHANGES[model]


def test_every_fault_has_a_name_of_its_own_and_allows_its_default() -> None:
    assert len(set(fault_names())) == len(FAULTS)
    for fault in FAULTS:
        assert fault.allows(fault.default), fault.name
        assert fault.meaning


def test_an_unknown_fault_is_refused_with_the_possible_ones() -> None:
    with pytest.raises(RefusedInputError) as refused:
        fault_of("gremlins")
    assert "'gremlins'" in refused.value.happened
    assert "reversed_woofer" in refused.value.remedy


def test_a_fault_the_model_cannot_have_is_refused_with_its_own() -> None:
    with pytest.raises(RefusedInputError) as refused:
        checked_faults(SCREE, {"missing_bias": 1.0})
    assert "Scree 12" in refused.value.happened
    assert "noisy_amplifier" in refused.value.remedy
    assert "missing_bias" not in refused.value.remedy


@pytest.mark.parametrize(
    ("name", "severity", "remedy"),
    [
        ("low_bias", 1.5, "Give a number from 0 to 1."),
        ("coil_rub", math.nan, "Give a number from 0 to 120 dB SPL."),
        ("open_crossover_part", 2.5, "Give a whole number from 1 to 4."),
        ("reversed_panel", 0.0, "Give a whole number from 1 to 1."),
    ],
)
def test_a_senseless_severity_is_refused(name: str, severity: float, remedy: str) -> None:
    with pytest.raises(RefusedInputError) as refused:
        checked_faults(FELL, {name: severity})
    assert refused.value.remedy == remedy


def test_faults_of_unit_and_station_are_told_apart() -> None:
    faults = {"weak_magnet": 0.2, "station_loud_room": 75.0}
    assert unit_faults(faults) == {"weak_magnet": 0.2}
    assert station_faults(faults) == {"station_loud_room": 75.0}
