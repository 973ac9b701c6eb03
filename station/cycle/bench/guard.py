"""What must hold while anything plays: the lid closed, the voltage within what the model bears."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

from station.analysis.arrays import FloatArray
from station.cycle.bench.bench import Bench
from station.errors import (
    FixtureError,
    RefusedInputError,
    StationError,
    UnsafeError,
    stopped,
)
from station.judging.tables.tables import LimitFile


@contextmanager
def guarded(
    bench: Bench, limits: LimitFile, output: FloatArray, stop: threading.Event
) -> Iterator[None]:
    """Let an output play inside only as long as that is safe.

    `stop` is the run's own; it is set when the output is silenced. An opening of the lid is told
    even where the recording became whole before anybody noticed.

    Raises
    ------
    FixtureError
        If the lid is open before it begins.
    RefusedInputError
        If the output is more than the model bears.
    UnsafeError
        If it was no longer safe to play; the output is silent.
    StoppedError
        If somebody stopped it, even where the recording became whole.
    """
    check_voltage(bench, limits, output)
    with watched_over(bench, stop):
        yield


@contextmanager
def watched_over(bench: Bench, stop: threading.Event) -> Iterator[None]:
    """Let something play inside as long as the lid is closed, as `guarded` does."""
    bench.fixture.check_closed()
    causes: list[FixtureError] = []

    def on_unsafe(cause: FixtureError) -> None:
        if not stop.is_set():  # else a person stopped it, and this is what follows from that
            causes.append(cause)
        stop.set()  # before the silence, so that a run which is about to begin does not
        bench.audio.silence()

    try:
        with bench.fixture.watched(on_unsafe):
            yield
    except StationError as error:
        if causes:
            raise unsafe(causes[0]) from error
        raise
    if causes:
        raise unsafe(causes[0])
    if stop.is_set():  # what was recorded meanwhile may be without a unit
        raise stopped()


def check_voltage(bench: Bench, limits: LimitFile, output: FloatArray) -> None:
    """Refuse an output whose peak is more than the model bears, as it will really be played."""
    if limits.safety is None:
        if bench.station.fixture is None:
            return
        raise RefusedInputError(
            f"The limit file of the {limits.model.name} does not say what voltage it bears.",
            "Add the table [safety] to it: with a fixture nothing plays without.",
        )
    peak_v = float(np.max(np.abs(output), initial=0.0)) * bench.station.audio.output_full_scale_v
    if peak_v > limits.safety.largest_peak_v:
        raise RefusedInputError(
            f"The sweep reaches {peak_v:.2f} V peak, and a {limits.model.name} bears "
            f"{limits.safety.largest_peak_v:.2f} V.",
            "Correct level_v or largest_peak_v in the limit file.",
        )


def unsafe(cause: FixtureError) -> UnsafeError:
    """Return the reason of a void."""
    return UnsafeError(cause.happened, cause.remedy)
