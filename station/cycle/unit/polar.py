"""Turn a unit on the turntable and hear it at each angle: its listening window and its nulls.

An engineer's measurement: nothing of it is judged, and nothing is stored.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

import numpy as np

from station.analysis.acoustic.directivity import ON_AXIS_DEG, PolarResponse
from station.analysis.acoustic.response import response_level
from station.analysis.arrays import FloatArray
from station.analysis.measure import measure
from station.analysis.plan import Plan
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.transfer import gated_transfer
from station.cycle.bench.bench import Bench, check_bench_fits
from station.cycle.trials.trial import Order, played
from station.cycle.unit.holding import held
from station.cycle.unit.report import Progress
from station.errors import NoSignalError, RefusedInputError
from station.hardware.protocols.audio import Meter
from station.hardware.protocols.turntable import Turntable


def polar_response(
    bench: Bench,
    order: Order,
    angles_deg: Sequence[float],
    *,
    on_angle: Callable[[float], None],
    stop: threading.Event,
) -> PolarResponse:
    """Return a unit's response at every angle, as level at 1 m for the limit file's voltage.

    The turntable is back at 0 when this returns or raises.

    Raises
    ------
    RefusedInputError
        If the station has no turntable, or the angles do not hold 0 or come twice.
    NoSignalError
        If a recording cannot be trusted.
    StationFaultError
        If fixture, turntable or audio device fail, or somebody stops it.
    """
    if (turntable := bench.turntable) is None:
        raise RefusedInputError(
            "This station has no turntable.", "Add [turntable] to the station file."
        )
    angles = sorted(set(angles_deg))
    if len(angles) != len(angles_deg) or ON_AXIS_DEG not in angles:
        raise RefusedInputError(
            "The angles must be different and hold 0.", "Name them with --angles, such as -15,0,15."
        )
    check_bench_fits(bench.station, order.sweep, order.plan, order.steps)
    model = order.shelved.limits.model.name
    curves = []
    with held(bench.fixture, order.serial, model, ignore_progress, stop, None):
        try:
            for angle_deg in angles:
                on_angle(angle_deg)
                turntable.turn_to(angle_deg)
                frequency_hz, level_db = heard(bench, order, stop)
                curves.append(level_db)
        finally:
            turned_back(turntable)
    return PolarResponse(frequency_hz, np.array(angles), np.stack(curves))


def heard(bench: Bench, order: Order, stop: threading.Event) -> tuple[FloatArray, FloatArray]:
    """Return the frequencies and levels of one sweep, gated; raise NoSignalError if it is void."""
    recording = played(bench, order, on_meter=ignore_meter, stop=stop)
    faults = measure(recording, Plan(order.plan.integrity, order.plan.response)).integrity
    if faults:
        raise NoSignalError(faults[0].happened, faults[0].remedy)
    plan = order.plan.response
    response = gated_transfer(spectra_of(recording), "microphone", plan.gate_s)
    curve = response_level(response, plan, recording.sweep, recording.distance_m)
    return curve.frequency_hz, curve.values


def turned_back(turntable: Turntable) -> None:
    """Turn the unit's axis to the microphone again."""
    turntable.turn_to(ON_AXIS_DEG)


def ignore_meter(_meter: Meter) -> None:
    """Show no level."""


def ignore_progress(_progress: Progress) -> None:
    """Show no stage."""
