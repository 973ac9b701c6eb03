"""The audio device as the cycle sees it: one stimulus out, all inputs in."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Capture:
    """What came in while a stimulus went out.

    Parameters
    ----------
    samples : ndarray, shape (n_inputs, n)
        Relative to full scale, a row for each input of the station file, in the file's order;
        not finite where the device gave no number. Exactly as many samples as were played.
    flags : tuple of str
        What the driver reported on the way, for example "input overflow".
    """

    samples: FloatArray
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Meter:
    """How far a run has come, for a display: not a measurement.

    `peaks` holds the latest peak of each input relative to full scale.
    """

    played_ratio: float
    peaks: tuple[float, ...]


MeterCallback = Callable[[Meter], None]


class AudioDevice(Protocol):
    """Plays one channel and records all inputs, sample for sample."""

    @property
    def rate_hz(self) -> float:
        """Sampling rate in Hz."""

    def play_and_record(
        self, output: FloatArray, *, on_meter: MeterCallback, stop: threading.Event
    ) -> Capture:
        """Play `output`, shape (n,), relative to full scale, and return n samples per input.

        Inputs are recorded with latency and all: the stimulus appears later by the device's delay.

        Raises
        ------
        AudioError
            If the device is missing, busy, wrong, or cannot be opened.
        AudioLostError
            If the device stops delivering in mid-run.
        StoppedError
            If `stop` was set or `silence` was called while it played; the output is silent when
            this is raised.
        """

    def silence(self) -> None:
        """Silence the output: the next block handed to the device ends in silence, by a ramp.

        Returns at once, from any thread. It holds for the run that plays; set `stop` first, so
        that a run which is about to begin does not.
        """

    def close(self) -> None:
        """Give the device back; the output is silent afterwards."""
