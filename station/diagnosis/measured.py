"""From the readings of a run to the evidence that a network is compared with."""

from __future__ import annotations

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.readings import Readings
from station.diagnosis.circuit.loudness import levels_db
from station.diagnosis.circuit.network import Network
from station.diagnosis.circuit.solver import impedance_ohm
from station.diagnosis.fits.evidence import Evidence
from station.diagnosis.fits.residuals import with_floor, wrapped
from station.diagnosis.named.sounds import REVERSED_BELOW, level_of
from station.judging.tables.netlisttables import LearnedTable, NetlistTable

MAGNITUDE, PHASE = "impedance", "impedance_phase"
# A level is read on top of what else sounds in the band, which a fault may move as well.
LEVEL_GROWTH_RATIO = 0.1


def has_impedance(readings: Readings) -> bool:
    """Return whether a run has an impedance that can be looked into."""
    if MAGNITUDE not in readings.curves or PHASE not in readings.curves:
        return False
    magnitude = readings.curves[MAGNITUDE].values
    return bool(np.all(np.isfinite(magnitude)) and np.all(magnitude > 0.0)) and bool(
        np.all(np.isfinite(readings.curves[PHASE].values))
    )


def evidence_of(readings: Readings, netlist: NetlistTable, network: Network) -> Evidence:
    """Return the evidence of a run that has an impedance."""
    magnitude, phase = readings.curves[MAGNITUDE], readings.curves[PHASE]
    frequency_hz = magnitude.frequency_hz
    ln_z = np.log(magnitude.values) + 1j * np.deg2rad(phase.values)
    sigma = np.full(frequency_hz.size, netlist.noise_ratio)
    nominal = np.zeros((1, len(network.variables)))
    if netlist.learned is not None:
        beyond, sigma = learned_at(netlist.learned, frequency_hz)
        ln_z = ln_z - beyond
        changed = wrapped(ln_z - np.log(impedance_ohm(network, nominal, frequency_hz)[0]))
        sigma = np.hypot(sigma, netlist.learned.change_error_ratio * np.abs(changed))
    level_db, level_sigma_db = levels_of(readings, netlist)
    nominal_db = levels_db(network, nominal)[0]
    return Evidence(frequency_hz, ln_z, sigma, level_db, level_sigma_db, nominal_db)


def learned_at(learned: LearnedTable, frequency_hz: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """Return what good units show beyond the model, and how far one lies from it."""
    at, known = np.log(frequency_hz), np.log(learned.hz)
    real, imaginary, spread = (
        np.interp(at, known, column) for column in (learned.real, learned.imaginary, learned.spread)
    )
    return real + 1j * imaginary, spread


def levels_of(readings: Readings, netlist: NetlistTable) -> tuple[FloatArray, FloatArray]:
    """Return the sections' levels against a good unit's, with their standard deviations.

    A section that is turned round says nothing by its level: it fights its neighbours.
    """
    turned = any(
        number.value < REVERSED_BELOW
        for name, number in readings.numbers.items()
        if name.startswith("polarity.")
    )
    found, spread = [], []
    for output in netlist.outputs:
        level_db = np.nan if turned else level_of(readings, output.section) - output.mean_db
        found.append(level_db)
        spread.append(output.spread_db)
    level = np.array(found)
    floored_db = with_floor(np.nan_to_num(level))[0]
    return level, np.array(spread) + LEVEL_GROWTH_RATIO * np.abs(floored_db)
