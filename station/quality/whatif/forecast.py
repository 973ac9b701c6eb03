"""What a production will be like before one unit is built: its parts drawn within tolerance.

Impedance and section levels follow from the model's netlist; the response does where the limit
file has a reference that the sections of the netlist can make together. What stands in no netlist,
such as the sound of the cabinet, distortion and rub, cannot be forecast; nor can what a unit does
beyond its model, but for the mean of it where good units were measured once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.plan import Reference
from station.analysis.signals.bands import band_centres
from station.diagnosis.circuit.building import network_of
from station.diagnosis.circuit.loudness import levels_db
from station.diagnosis.circuit.network import CABLE, STATION, Network
from station.diagnosis.circuit.solver import impedance_ohm
from station.diagnosis.measured import MAGNITUDE, PHASE, learned_at
from station.errors import RefusedInputError
from station.judging.files.planning import reference_of_table
from station.judging.tables.netlisttables import NetlistTable
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.bands import reference_level_db
from station.quality.judged.manyunits import FAIL, PASS, ManyVerdicts, judged_units
from station.quality.whatif.sections import SectionModel, moved_db, section_model
from station.records.columns.columns import Columns, CurveColumn, NumberColumn

FINE_PER_OCTAVE = 48  # where the minimum is looked for
LOW, HIGH = 0.135, 99.865  # percentiles: what three standard deviations are to a normal number


@dataclass(frozen=True, slots=True, eq=False)
class ForecastCurve:
    """The spread of a curve, shape (n,) each, with its unit."""

    frequency_hz: FloatArray
    low: FloatArray
    middle: FloatArray
    high: FloatArray
    unit: str


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """So many units drawn, what limits would say of them, and what could not be forecast."""

    units: Columns
    verdicts: ManyVerdicts
    judged: tuple[str, ...]
    not_forecast: tuple[str, ...]

    @property
    def passed(self) -> int:
        """How many pass all limits that could be forecast."""
        return int(np.sum(self.verdicts.codes == PASS))

    @property
    def failed(self) -> int:
        """How many fail one of them."""
        return int(np.sum(self.verdicts.codes == FAIL))

    def fails_by_limit(self) -> dict[str, int]:
        """Return how many units each limit fails by itself, the most first."""
        counts = {
            name: int(found.rows.size)
            for limit in self.verdicts.limits
            for name, found in limit.causes
        }
        return dict(sorted(counts.items(), key=lambda item: -item[1]))


def forecast(limits: LimitFile, count: int, seed: int) -> Forecast:
    """Return what the production of a model will be like by its netlist.

    Raises
    ------
    RefusedInputError
        If the limit file has no netlist, or judges nothing that follows from one.
    """
    if limits.netlist is None:
        raise RefusedInputError(
            "The limit file has no [netlist], so nobody knows the parts.",
            "Write one as in the shipped limit files, with the tolerance of every part.",
        )
    network = network_of(limits.netlist, limits.readings.sections)
    units = drawn_units(limits, limits.netlist, network, count, seed)
    known = {*units.numbers, *units.curves}
    bands = tuple(band for band in limits.bands if band.reading in known)
    numbers = tuple(limit for limit in limits.numbers if limit.reading in known)
    if not bands and not numbers:
        raise RefusedInputError(
            "Nothing that this file judges follows from its netlist.",
            "Judge the impedance or the level of a section.",
        )
    shown = without_noise(limits).model_copy(
        update={"bands": bands, "numbers": numbers, "advice": ()}
    )
    judged = [*(band.reading for band in limits.bands), *(one.reading for one in limits.numbers)]
    return Forecast(
        units,
        judged_units(units, shown),
        tuple(dict.fromkeys(name for name in judged if name in known)),
        tuple(dict.fromkeys(name for name in judged if name not in known)),
    )


def without_noise(limits: LimitFile) -> LimitFile:
    """Return limits that ask for no distance from a noise: nobody knows yet what there will be."""
    response = limits.readings.response.model_copy(update={"noise_margin_db": None})
    readings = limits.readings.model_copy(update={"response": response})
    return limits.model_copy(update={"readings": readings})


def drawn_units(
    limits: LimitFile, netlist: NetlistTable, network: Network, count: int, seed: int
) -> Columns:
    """Return the readings of units whose parts are drawn, each by itself, normally distributed.

    Leads and current sense are the station's and stay as they are.
    """
    rng = np.random.default_rng(seed)
    of_unit = np.array([variable.part not in (CABLE, STATION) for variable in network.variables])
    sigma = np.where(of_unit, network.sigma, 0.0)
    variables = rng.standard_normal((count, sigma.size)) * sigma
    numbers: dict[str, NumberColumn] = {}
    curves: dict[str, tuple[CurveColumn, ...]] = {}
    read = limits.readings.impedance
    if read is not None:
        at_hz = band_centres(read.from_hz, read.to_hz, read.bands_per_octave)
        z_ohm = measured_impedance(netlist, network, variables, at_hz)
        curves[MAGNITUDE] = (curve_column(at_hz, np.abs(z_ohm), "Ω"),)
        curves[PHASE] = (curve_column(at_hz, np.rad2deg(np.angle(z_ohm)), "°"),)
        fine_hz = band_centres(read.minimum_from_hz, read.minimum_to_hz, FINE_PER_OCTAVE)
        fine_ohm = np.abs(measured_impedance(netlist, network, variables, fine_hz))
        numbers["impedance_min"] = number_column(fine_ohm.min(axis=1), "Ω")
        numbers["impedance_min_hz"] = number_column(fine_hz[fine_ohm.argmin(axis=1)], "Hz")
    tables = {output.section: output for output in netlist.outputs}
    own_db = np.zeros((count, len(network.outputs)))
    for place, output in enumerate(network.outputs):
        table = tables[output.section]
        own_db[:, place] = table.mean_db + table.spread_db * rng.standard_normal(count)
    for place, level_db in enumerate(level_columns(network, variables)):
        section = network.outputs[place].section
        numbers[f"level.{section}"] = number_column(level_db + own_db[:, place], "dB")
    acoustic = acoustic_model(limits, network)
    if acoustic is not None:
        reference, model = acoustic
        response = limits.readings.response

        def levels_at(at_hz: FloatArray) -> FloatArray:
            nominal_db = reference_level_db(reference, at_hz, response.for_v)
            found: FloatArray = nominal_db + moved_db(model, variables, own_db, at_hz)
            return found

        at_hz = band_centres(response.from_hz, response.to_hz, response.bands_per_octave)
        curves["response"] = (curve_column(at_hz, levels_at(at_hz), "dB"),)
        band = limits.readings.sensitivity
        if band is not None:
            at_hz = band_centres(band.from_hz, band.to_hz, response.bands_per_octave)
            power = np.mean(10.0 ** (levels_at(at_hz) / 10.0), axis=1)
            numbers["sensitivity"] = number_column(10.0 * np.log10(power), "dB")
    return Columns(count, numbers, curves)


def acoustic_model(limits: LimitFile, network: Network) -> tuple[Reference, SectionModel] | None:
    """Return the reference and how its sections make it; None where they are not known to."""
    if limits.reference is None or not network.outputs:
        return None
    reference = reference_of_table(limits.reference)
    model = section_model(network, reference)
    return None if model is None else (reference, model)


def measured_impedance(
    netlist: NetlistTable, network: Network, variables: FloatArray, frequency_hz: FloatArray
) -> ComplexArray:
    """Return the impedance with what good units were found to have beyond the model."""
    z_ohm = impedance_ohm(network, variables, frequency_hz)
    if netlist.learned is None:
        return z_ohm
    beyond, _ = learned_at(netlist.learned, frequency_hz)
    found: ComplexArray = z_ohm * np.exp(beyond)
    return found


def level_columns(network: Network, variables: FloatArray) -> FloatArray:
    """Return the level of every output against nominal, shape (n_outputs, n_units), in dB."""
    nominal = levels_db(network, np.zeros((1, len(network.variables))))
    return (levels_db(network, variables) - nominal).T


def curve_column(frequency_hz: FloatArray, values: FloatArray, unit: str) -> CurveColumn:
    """Return curves that every unit has."""
    everybody = np.ones(values.shape[0], dtype=np.bool_)
    return CurveColumn(unit, frequency_hz, values.astype(np.float32), everybody)


def number_column(values: FloatArray, unit: str) -> NumberColumn:
    """Return a number that every unit has."""
    flags = np.array([np.ones(values.size), np.zeros(values.size)], dtype=np.bool_)
    return NumberColumn(unit, values, np.full(values.size, np.nan), flags[0], flags[1])


def spread_of(column: CurveColumn) -> ForecastCurve:
    """Return how far a curve varies at each frequency."""
    low, middle, high = np.percentile(column.values, (LOW, 50.0, HIGH), axis=0)
    return ForecastCurve(column.frequency_hz, low, middle, high, column.unit)
