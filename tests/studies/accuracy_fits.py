"""How exact the parameters of drivers and panels are, and how honest their uncertainties.

Impedances that ngspice computed from a driver's mechanics and from a panel behind two coupled
coils, with 0.3 % of noise in real and imaginary part, 200 draws. A z-score is error over stated
standard uncertainty: its root mean square is 1 if the uncertainties are honest, and 200 draws know
it to 0.05. Run by `python -m tests.studies.accuracy_fits`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.electric.driverfit import DriverFit, fitted_driver
from station.analysis.electric.impedance import impedance
from station.analysis.electric.panelfit import PanelFit, fitted_panel
from station.analysis.plan import ImpedancePlan
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import sweep_voltage
from tests.analysis.closedforms import SWEEP
from tests.analysis.electric import test_driverfit as driver
from tests.analysis.electric import test_panelfit as panel
from tests.ngspice.truth import current_through, recording_of, truth_ohm
from tests.studies.tables import table

DRAWS = 200
SEED = 2026
# What the station claims, relative; what is not named is not claimed.
CLAIMS = {
    "fs_hz": 0.002, "qms": 0.01, "qes": 0.01, "qts": 0.01, "re_ohm": 0.01,
    "primary_f": 0.01, "panel_f": 0.01, "leakage_h": 0.02, "minimum_hz": 0.005,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class FitError:
    """Relative errors of one parameter, and the root mean square of its z-scores."""

    rms_ratio: float
    worst_ratio: float
    z_rms: float
    swept_ratio: float


def fitted_moving_coil(frequency_hz: FloatArray, z_ohm: ComplexArray) -> DriverFit:
    """Return the parameters of the driver."""
    return fitted_driver(frequency_hz, z_ohm, driver.PEAK)


def fitted_bare_panel(frequency_hz: FloatArray, z_ohm: ComplexArray) -> PanelFit:
    """Return the parameters of the panel."""
    return fitted_panel(frequency_hz, z_ohm, panel.TURNS_RATIO)


def panel_truth() -> Mapping[str, float]:
    """Return the circuit's values, and its minimum as ngspice has it."""
    fine_hz = np.geomspace(18e3, 30e3, 20_001)
    z_ohm = truth_ohm("panel", fine_hz)
    lowest = int(np.argmin(np.abs(z_ohm)))
    return {
        **panel.TRUTH,
        "panel_f": panel.TRUTH["primary_f"] / panel.TURNS_RATIO**2,
        "minimum_hz": float(fine_hz[lowest]),
        "minimum_ohm": float(np.abs(z_ohm[lowest])),
        "inductive_above_hz": float(fine_hz[int(np.argmin(np.abs(z_ohm.imag)))]),
    }


def swept(network: str, from_hz: float, to_hz: float) -> tuple[FloatArray, ComplexArray]:
    """Return the impedance that a one-second sweep reads, in twenty-fourths of an octave."""
    recording = recording_of(sweep_voltage(SWEEP), current_through(network, SWEEP), SWEEP)
    plan = ImpedancePlan(from_hz, to_hz, 24, 0.25, from_hz, to_hz)
    found = impedance(spectra_of(recording), plan)
    return found.frequency_hz, found.magnitude_ohm * np.exp(1j * np.radians(found.phase_deg))


def fit_errors(
    network: str,
    fitted: Callable[[FloatArray, ComplexArray], DriverFit | PanelFit],
    frequency_hz: FloatArray,
    truth: Mapping[str, float],
    draws: int,
) -> Mapping[str, FitError]:
    """Return the errors of every parameter over draws of noise, and without noise by a sweep."""
    rng = np.random.default_rng(SEED)
    exact_ohm = truth_ohm(network, frequency_hz)
    found = [fitted(frequency_hz, driver.noisy(exact_ohm, rng)) for _ in range(draws)]
    quiet = fitted(*swept(network, max(20.0, float(frequency_hz[0])), float(frequency_hz[-1])))
    errors = {}
    for name, value in truth.items():
        estimates = [getattr(fit, name) for fit in found]
        off = np.array([estimate.value - value for estimate in estimates])
        spread = np.array([estimate.standard_uncertainty for estimate in estimates])
        errors[name] = FitError(
            math.sqrt(float(np.mean((off / value) ** 2))),
            float(np.max(np.abs(off / value))),
            math.sqrt(float(np.mean((off / spread) ** 2))),
            float(getattr(quiet, name).value / value - 1.0),
        )
    return errors


def driver_errors(draws: int) -> Mapping[str, FitError]:
    """Return the errors of the driver's parameters."""
    return fit_errors("moving_coil", fitted_moving_coil, driver.FREQUENCY_HZ, driver.TRUTH, draws)


def panel_errors(draws: int) -> Mapping[str, FitError]:
    """Return the errors of the panel's parameters."""
    frequency_hz = np.geomspace(5e3, 40e3, 150)  # up to where the sweep's fade-out begins
    return fit_errors("panel", fitted_bare_panel, frequency_hz, panel_truth(), draws)


def printed(draws: int) -> str:
    """Return a table for driver and panel."""
    parts = []
    for title, errors in (("driver", driver_errors(draws)), ("panel", panel_errors(draws))):
        rows = [
            [
                name,
                f"{100.0 * CLAIMS[name]:g} %" if name in CLAIMS else "-",
                f"{100.0 * error.worst_ratio:.3f} %",
                f"{100.0 * error.rms_ratio:.3f} %",
                f"{error.z_rms:.2f}",
                f"{100.0 * error.swept_ratio:+.4f} %",
            ]
            for name, error in errors.items()
        ]
        head = ["parameter", "claim", "worst draw", "rms", "z-score rms", "one sweep, no noise"]
        parts.append(table(f"Fit of a {title}, 0.3 % of noise, {draws} draws", head, rows))
    return "\n".join(parts)


if __name__ == "__main__":
    print(printed(DRAWS))
