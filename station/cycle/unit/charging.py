"""Wait until a panel's bias has built up, by short sweeps and not by a fixed time.

What they tell is not judged: the sweep that follows measures the panel as it is then.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field

import numpy as np

from station.analysis.acoustic.biasbuildup import (
    FEWEST_POINTS,
    BiasBuildUp,
    BiasThresholds,
    bias_build_up,
)
from station.analysis.acoustic.response import sensitivity
from station.analysis.plan import ResponsePlan, SensitivityPlan
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from station.cycle.bench.bench import Bench, recording_of
from station.cycle.bench.guard import guarded
from station.cycle.unit.report import Progress, ProgressCallback, Stage
from station.errors import NoSignalError, UnsettledError
from station.hardware.protocols.audio import Meter
from station.judging.tables.biastables import BiasTable
from station.judging.tables.readingtables import BESIDE_RATIO
from station.judging.tables.tables import LimitFile

BANDS_PER_OCTAVE = 3


@dataclass(slots=True)
class Heard:
    """Levels of the panel's band, and how long its bias was on at each."""

    time_s: list[float] = field(default_factory=list)
    level_db: list[float] = field(default_factory=list)


def await_bias(
    bench: Bench, limits: LimitFile, *, on_progress: ProgressCallback, stop: threading.Event
) -> BiasBuildUp | None:
    """Return how the bias came up; None where nobody waits for one or nothing is heard.

    Raises
    ------
    UnsettledError
        If the panel still rises after the limit file's time.
    StationFaultError
        As every sweep does.
    """
    table = limits.bias
    if table is None or bench.fixture.bias_on_for_s() is None:
        return None
    thresholds = BiasThresholds(
        table.missing_below_db_spl, table.low_below_db_spl, table.settled_within_db
    )
    heard = Heard()
    while True:
        try:
            on_s = probed(bench, limits, table, heard, stop)
        except NoSignalError:
            return None  # the test's own sweep says why, and is stored
        on_progress(Progress(Stage.CHARGING, 1, min(on_s / table.at_most_s, 1.0)))
        if len(heard.time_s) < FEWEST_POINTS:
            continue
        found = bias_build_up(np.array(heard.time_s), np.array(heard.level_db), thresholds)
        if found.state in ("settled", "low"):
            return found
        if on_s >= table.at_most_s:
            if found.state == "missing":
                return found
            raise UnsettledError(
                f"The panel's level still rises {on_s:.0f} s after its bias was switched on.",
                "Check the bias supply and its leads; if they are good, scan the unit again.",
            )


def probed(
    bench: Bench, limits: LimitFile, table: BiasTable, heard: Heard, stop: threading.Event
) -> float:
    """Play one short sweep, add what was heard, and return how long the bias was on."""
    sweep = short_sweep(table, limits)
    on_s = bench.fixture.bias_on_for_s() or 0.0
    output = sweep_voltage(sweep) / bench.station.audio.output_full_scale_v
    with guarded(bench, limits, output, stop):
        capture = bench.audio.play_and_record(output, on_meter=unwatched, stop=stop)
    recording = recording_of(capture, bench.station, sweep, bench.microphone_response)
    response = gated_transfer(spectra_of(recording), "microphone", table.gate_s)
    stated = ResponsePlan(
        table.from_hz,
        table.to_hz,
        BANDS_PER_OCTAVE,
        table.gate_s,
        limits.readings.response.for_v,
    )
    band = SensitivityPlan(table.from_hz, table.to_hz)
    heard.time_s.append(on_s + table.silence_s + 0.5 * table.duration_s)
    heard.level_db.append(sensitivity(response, band, stated, sweep, recording.distance_m))
    return on_s


def short_sweep(table: BiasTable, limits: LimitFile) -> Sweep:
    """Return the sweep that is played while the bias builds up, as loud as the test's."""
    faded_in_hz = table.from_hz / BESIDE_RATIO
    return Sweep(
        faded_in_hz / BESIDE_RATIO,
        faded_in_hz,
        table.to_hz * BESIDE_RATIO,
        table.duration_s,
        limits.stimulus.level_v,
        table.silence_s,
        table.silence_s,
        limits.stimulus.rate_hz,
    )


def unwatched(_meter: Meter) -> None:
    """Show no level of a short sweep."""
