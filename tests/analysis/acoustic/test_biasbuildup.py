import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.biasbuildup import BiasThresholds, bias_build_up, charging_fit
from station.errors import NoSignalError

TIME_S = np.linspace(0.25, 10.0, 40)
THRESHOLDS = BiasThresholds(missing_below_db=60.0, low_below_db=80.0, settled_within_db=0.5)


def charged_db(time_s: np.ndarray, settled_db: float, time_constant_s: float) -> np.ndarray:
    """A capacitor's voltage behind a resistor, as a level."""
    return settled_db + 20.0 * np.log10(1.0 - np.exp(-time_s / time_constant_s))


def test_a_charge_without_scatter_is_read_exactly() -> None:
    fit = charging_fit(TIME_S, charged_db(TIME_S, 86.0, 2.0))
    assert fit.settled_db == pytest.approx(86.0, abs=1e-6)
    assert fit.time_constant_s == pytest.approx(2.0, rel=1e-6)
    # 1 - exp(-t/tau) = 0.9 at t = 2.302585 tau (natural logarithm of ten)
    assert fit.ninety_percent_s == pytest.approx(4.60517, rel=1e-5)
    assert fit.residual_db == pytest.approx(0.0, abs=1e-6)


def test_levels_halved_and_quartered_give_the_time_constant_of_a_halving() -> None:
    # After tau ln 2 the amplitude is half of the settled one (-6.0206 dB), after 2 tau ln 2 three
    # quarters (-2.4988 dB), after 3 tau ln 2 seven eighths (-1.1598 dB), then 15/16 (-0.5606 dB)
    level_db = 80.0 - np.array([6.0206, 2.4988, 1.1598, 0.5606])
    fit = charging_fit(np.array([1.0, 2.0, 3.0, 4.0]), level_db)
    assert fit.settled_db == pytest.approx(80.0, abs=1e-3)
    assert fit.time_constant_s == pytest.approx(1.0 / math.log(2.0), rel=1e-3)


@pytest.mark.parametrize("time_constant_s", [0.5, 2.0, 6.0])
def test_uncertainties_are_as_large_as_the_errors(time_constant_s: float) -> None:
    # Error over stated standard uncertainty: root mean square 1 for honest uncertainties. 200
    # draws know it to 5 %; 38 degrees of freedom raise it to 1.03 (Student).
    clean_db = charged_db(TIME_S, 86.0, time_constant_s)
    rng = np.random.default_rng(7)
    z = []
    for _ in range(200):
        fit = charging_fit(TIME_S, clean_db + rng.normal(0.0, 0.1, TIME_S.size))
        z.append(
            [
                (fit.settled_db - 86.0) / fit.settled_u_db,
                (fit.time_constant_s - time_constant_s) / fit.time_constant_u_s,
                (fit.ninety_percent_s - math.log(10.0) * time_constant_s) / fit.ninety_percent_u_s,
            ]
        )
    rms = np.sqrt(np.mean(np.square(z), axis=0))
    assert np.all((rms > 0.85) & (rms < 1.15)), rms


def test_scatter_is_read_from_the_residuals_of_few_levels_too() -> None:
    rng = np.random.default_rng(3)
    time_s = np.linspace(0.5, 8.0, 6)
    clean_db = charged_db(time_s, 86.0, 2.0)
    fits = [charging_fit(time_s, clean_db + rng.normal(0.0, 0.2, 6)) for _ in range(200)]
    # variance without bias: 200 fits of 4 degrees of freedom know it to sqrt(2/800) = 5 %
    assert np.mean([fit.residual_db**2 for fit in fits]) == pytest.approx(0.04, rel=0.15)


@pytest.mark.parametrize(
    ("settled_db", "last_s", "state"),
    [
        (50.0, 10.0, "missing"),
        (75.0, 10.0, "low"),
        (86.0, 10.0, "settled"),
        # 0.5 dB short is a share of 0.944: 2.88 time constants of 2 s
        (86.0, 5.7, "charging"),
        (86.0, 5.8, "settled"),
        (75.0, 3.0, "charging"),  # still charging: too early to call it low
    ],
)
def test_state_follows_the_thresholds(settled_db: float, last_s: float, state: str) -> None:
    time_s = np.linspace(0.2, last_s, 12)
    found = bias_build_up(time_s, charged_db(time_s, settled_db, 2.0), THRESHOLDS)
    assert found.state == state
    assert (found.fit is None) == (state == "missing")


def test_a_panel_charged_before_the_first_measurement_is_settled() -> None:
    found = bias_build_up(TIME_S, np.full(TIME_S.size, 86.0), THRESHOLDS)
    assert (found.state, found.fit, found.last_db) == ("settled", None, 86.0)


def test_a_steady_low_level_is_low() -> None:
    found = bias_build_up(TIME_S, np.full(TIME_S.size, 70.0), THRESHOLDS)
    assert (found.state, found.fit) == ("low", None)


def test_a_rise_without_end_in_sight_is_charging() -> None:
    # amplitude proportional to time: a time constant without end
    level_db = 70.0 + 20.0 * np.log10(TIME_S)
    found = bias_build_up(TIME_S, level_db, THRESHOLDS)
    assert (found.state, found.fit) == ("charging", None)
    with pytest.raises(NoSignalError, match="does not follow a charge"):
        charging_fit(TIME_S, level_db)


@settings(deadline=None, derandomize=True)
@given(st.floats(0.1, 50.0), st.floats(61.0, 120.0), st.floats(0.05, 20.0))
def test_levels_and_times_scale(time_constant_s: float, settled_db: float, ratio: float) -> None:
    time_s = time_constant_s * np.linspace(0.2, 4.0, 10)
    fit = charging_fit(time_s * ratio, charged_db(time_s, settled_db, time_constant_s))
    assert fit.time_constant_s == pytest.approx(time_constant_s * ratio, rel=1e-5)
    assert fit.settled_db == pytest.approx(settled_db, abs=1e-5)


@settings(deadline=None, derandomize=True)
@given(st.lists(st.floats(-200.0, 200.0), min_size=4, max_size=12))
def test_any_levels_give_a_state_and_finite_numbers(levels: list[float]) -> None:
    time_s = np.linspace(0.5, 20.0, len(levels))
    found = bias_build_up(time_s, np.array(levels), THRESHOLDS)
    assert found.state in ("missing", "charging", "low", "settled")
    if found.fit is not None:
        assert np.isfinite([found.fit.settled_u_db, found.fit.time_constant_u_s]).all()


def test_levels_over_very_long_times_are_read() -> None:
    time_s = np.geomspace(0.01, 10_000.0, 30)
    assert charging_fit(time_s, charged_db(time_s, 86.0, 1.0)).time_constant_s == pytest.approx(
        1.0, rel=1e-5
    )


@pytest.mark.parametrize("level_db", [np.array([80.0, np.nan, 81.0, 82.0]), np.full(4, -np.inf)])
def test_a_level_that_is_not_finite_is_no_signal(level_db: np.ndarray) -> None:
    with pytest.raises(NoSignalError):
        bias_build_up(np.arange(1.0, 5.0), level_db, THRESHOLDS)


def test_three_levels_are_too_few() -> None:
    with pytest.raises(NoSignalError, match="too seldom"):
        charging_fit(np.arange(1.0, 4.0), np.full(3, 80.0))


@pytest.mark.parametrize(
    "time_s", [np.arange(4.0), np.arange(4.0, 0.0, -1.0), np.array([1.0, 2.0, 3.0, np.inf])]
)
def test_times_that_do_not_rise_from_above_zero_are_refused(time_s: np.ndarray) -> None:
    with pytest.raises(ValueError, match="rise"):
        charging_fit(time_s, np.full(4, 80.0))


def test_levels_without_times_are_refused() -> None:
    with pytest.raises(ValueError, match="need two shapes"):
        charging_fit(np.arange(1.0, 5.0), np.full(5, 80.0))
