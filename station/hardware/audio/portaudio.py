"""The real audio device: PortAudio in a child process that is watched and, if need be, replaced."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from station.errors import AudioError, AudioLostError, BusyError, StoppedError, stopped
from station.hardware.audio import audiofaults
from station.hardware.audio.audiochild import AudioChild
from station.hardware.audio.devicelock import DeviceLock
from station.hardware.audio.devices import device_index
from station.hardware.between.deviceinfo import DeviceInfo
from station.hardware.between.link import Samples
from station.hardware.between.messages import Fault, Moved, Opened, Record, Recorded, Stop, Stopped
from station.hardware.files.stationfile import AudioSettings
from station.hardware.protocols.audio import Capture, FloatArray, Meter, MeterCallback
from station.hardware.protocols.clock import Clock

OPEN_LIMIT_S = 10.0  # from the request to a running stream; sound servers take their time
RATE_TOLERANCE_RATIO = 0.04  # usual rates are 8 % apart; a busy computer's timing is not exact
POLL_S = 0.02  # how soon a wish to stop is seen


class PortAudioDevice:
    """Implements AudioDevice; safe to call from any thread, one run at a time.

    Nothing is started before the first call. The child lives on between runs, with the stream
    closed, and is replaced after every failure.

    Parameters
    ----------
    settings : AudioSettings
        The device and how it is opened.
    inputs : tuple of int
        Inputs to record, counted from 1, in the order of the rows of the capture.
    lock_folder : Path
        Where the lock file of the device lives.
    clock : Clock
        Measures for how long no block came.
    """

    def __init__(
        self, settings: AudioSettings, inputs: tuple[int, ...], *, lock_folder: Path, clock: Clock
    ) -> None:
        self._settings = settings
        self._inputs = inputs
        self._lock_folder = lock_folder
        self._clock = clock
        self._running = threading.Lock()
        self._replacing = threading.Lock()
        self._child: AudioChild | None = None
        self._lock: DeviceLock | None = None
        self._index = 0
        self._device: DeviceInfo | None = None

    @property
    def rate_hz(self) -> float:
        """Sampling rate in Hz."""
        return self._settings.rate_hz

    def prepare(self) -> DeviceInfo:
        """Find the device and take it, without opening or playing; every run does it if needed.

        Raises
        ------
        AudioError
            If the device is missing, not the only one of the name, or lacks channels.
        BusyError
            If another station holds it.
        """
        with self._one_at_a_time():
            return self._prepared()[1]

    def play_and_record(
        self, output: FloatArray, *, on_meter: MeterCallback, stop: threading.Event
    ) -> Capture:
        """Play `output`, shape (n,), relative to full scale, and return n samples per input.

        Row k of the capture is input `inputs[k]`; its first sample was taken when the first of
        `output` was handed to the device, so the stimulus appears later by the device's delay.

        Raises
        ------
        ValueError
            If `output` is empty, not one row, not finite, or beyond full scale.
        AudioError
            If the device is missing, busy, wrong, or cannot be opened.
        AudioLostError
            If the device stops delivering in mid-run.
        BusyError
            If another station holds the device, or a run is going on.
        StoppedError
            If `stop` was set while it played; the output is silent when this is raised.
        """
        stimulus = playable(output)
        if stop.is_set():
            raise stopped()
        with self._one_at_a_time(), self._replaced_on_failure():
            child = self._opened(stimulus, stop)
            try:
                return self._followed(child, len(stimulus), on_meter, stop)
            except AudioError as error:
                raise AudioLostError(error.happened, error.remedy) from error

    def silence(self) -> None:
        """Silence the output: the next block handed to the device ends in silence, by a ramp."""
        with self._replacing:  # never while the child is exchanged for another
            if self._child is not None:
                self._child.halt()

    def close(self) -> None:
        """Give the device back, after the run that may be going on; the output is silent then."""
        with self._running:
            self._discard()
            if self._lock is not None:
                self._lock.release()
                self._lock = None

    def _prepared(self) -> tuple[AudioChild, DeviceInfo]:
        if self._child is not None and self._device is not None:
            return self._child, self._device
        with self._replaced_on_failure():
            child = AudioChild()
            with self._replacing:
                self._child = child
            devices = child.devices()
            self._index = device_index(devices, self._settings, self._inputs)
            self._device = devices[self._index]
            self._take(f"{self._device.host_api} {self._device.name}")
            return child, self._device

    def _take(self, device: str) -> None:
        if self._lock is not None and self._lock.device != device:
            self._lock.release()
            self._lock = None
        if self._lock is None:
            self._lock = DeviceLock(self._lock_folder, device)

    def _opened(self, stimulus: Samples, stop: threading.Event) -> AudioChild:
        worn = self._child is not None
        try:
            return self._opened_once(stimulus, stop)
        except AudioError:
            if not worn:
                raise
        # The old child saw devices and sound servers as they were when it started.
        self._discard()
        return self._opened_once(stimulus, stop)

    def _opened_once(self, stimulus: Samples, stop: threading.Event) -> AudioChild:
        child, device = self._prepared()
        child.allow()
        if stop.is_set():  # looked at after the flag was cleared, or a wish could be lost between
            raise stopped()
        settings = self._settings
        request = Record(
            device_index=self._index,
            rate_hz=settings.rate_hz,
            block_frames=settings.block_frames,
            output_column=settings.output - 1,
            input_columns=tuple(number - 1 for number in self._inputs),
        )
        child.send(request, stimulus)
        match child.receive(OPEN_LIMIT_S):
            case (Opened(), _):
                return child
            case (Fault() as fault, _):
                raise audiofaults.not_opened(fault, device, settings.rate_hz)
            case _:
                raise audiofaults.not_answering()

    def _followed(
        self, child: AudioChild, n: int, on_meter: MeterCallback, stop: threading.Event
    ) -> Capture:
        passed_frames = 0
        peaks = (0.0,) * len(self._inputs)
        silent_s = 0.0
        stopping = False
        while True:
            if stop.is_set() and not stopping:
                child.halt()
                child.send(Stop())
                stopping = True
            # Only waiting counts as silence: a slow display must not look like a lost device.
            asked_s = self._clock.monotonic_s()
            received = child.receive(POLL_S)
            silent_s += self._clock.monotonic_s() - asked_s
            match received:
                case (Moved() as moved, _):
                    if moved.passed_frames > passed_frames:
                        passed_frames, silent_s = moved.passed_frames, 0.0
                    peaks = moved.peaks
                    on_meter(Meter(moved.recorded_frames / n, peaks))
                case (Recorded() as recorded, samples) if not stopping:
                    self._check_rate(recorded.rate_hz)
                    on_meter(Meter(1.0, peaks))
                    return Capture(rows_of(samples, len(self._inputs)), recorded.flags)
                case (Recorded() | Stopped(), _):
                    raise stopped()
                case (Fault() as fault, _):
                    raise audiofaults.callback_failed(fault)
            if silent_s > self._settings.silence_limit_s:
                raise audiofaults.stopped_delivering()

    def _check_rate(self, found_hz: float) -> None:
        if found_hz and abs(found_hz / self.rate_hz - 1.0) > RATE_TOLERANCE_RATIO:
            raise audiofaults.wrong_rate(found_hz, self.rate_hz)

    @contextmanager
    def _one_at_a_time(self) -> Iterator[None]:
        if not self._running.acquire(blocking=False):
            raise BusyError("A run is going on.", "Wait until it is over.")
        try:
            yield
        finally:
            self._running.release()

    @contextmanager
    def _replaced_on_failure(self) -> Iterator[None]:
        try:
            yield
        except StoppedError:  # the child did as it was told
            raise
        except BaseException:
            self._discard()
            raise

    def _discard(self) -> None:
        with self._replacing:
            child, self._child = self._child, None
        if child is not None:
            child.end()


def playable(output: FloatArray) -> Samples:
    """Return the stimulus as the device takes it; raise ValueError if it cannot be played."""
    if output.ndim != 1 or output.size == 0:
        raise ValueError(f"need shape (n,), n > 0; got {output.shape}")
    if not np.isfinite(output).all() or np.max(np.abs(output)) > 1.0:
        raise ValueError("the output must be finite and within full scale, -1 to 1")
    return output.astype(np.float32)


def rows_of(samples: Samples, n_inputs: int) -> FloatArray:
    """Return frames of all inputs, as they came, as one row per input."""
    rows = np.ascontiguousarray(samples.reshape(-1, n_inputs).T, dtype=np.float64)
    rows.flags.writeable = False
    return rows
