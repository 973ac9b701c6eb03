"""Short versions of the studies, each against the claim that stands in DEVELOPERS.md."""

from __future__ import annotations

import math

import pytest

from tests.studies.accuracy_fits import CLAIMS, driver_errors, panel_errors
from tests.studies.accuracy_linear import CIRCUITS, PATHS, impedance_error, response_error
from tests.studies.repeatability import CLAIM_DB, NOISES, UNITS, repeated


@pytest.mark.parametrize("path", PATHS)
def test_the_response_is_within_two_hundredths_of_a_decibel(path: str) -> None:
    assert response_error(PATHS[path], 12).worst_db < 0.02


@pytest.mark.parametrize("network", CIRCUITS)
def test_the_impedance_is_what_ngspice_says(network: str) -> None:
    error = impedance_error(network)
    assert error.magnitude_ratio < 1e-3
    assert error.phase_deg < 0.1
    assert math.isnan(error.fs_ratio) or abs(error.fs_ratio) < 2e-3


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("noise", NOISES)
def test_the_response_repeats_within_three_hundredths_of_a_decibel(unit: str, noise: str) -> None:
    spread = repeated(UNITS[unit], NOISES[noise], 12, repeats=12).by_octave_db()
    assert max(rms_db for rms_db, _ in spread.values()) < CLAIM_DB


def test_fitted_parameters_keep_their_claims_in_noise() -> None:
    errors = {**driver_errors(30), **panel_errors(30)}
    for name, claim_ratio in CLAIMS.items():
        assert errors[name].worst_ratio < claim_ratio, name
