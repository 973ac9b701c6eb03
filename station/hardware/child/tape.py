"""The tape of one run: what the audio callback plays from and records onto."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import numpy as np

from station.hardware.between.link import Samples
from station.hardware.between.messages import Moved
from station.hardware.child.pace import Pace


class Tape:
    """Hands out the stimulus block by block and keeps what comes in, sample for sample.

    A run-in of silence lets the stream settle before the first sample; a run-out catches what
    the driver reports late about the last ones.

    Parameters
    ----------
    stimulus : ndarray, shape (n,)
        Relative to full scale; copied, because a stop fades it out.
    output_column, input_columns : int, tuple of int
        Channel that plays and channels that are kept, counted from 0.
    run_in_frames, run_out_frames, fade_frames : int
        Lengths of the silences, and of the fade when the run is stopped; a fade never lasts
        longer than the block it begins in.
    halted : callable
        Asked before every block whether the output must fall silent; `stop` does it too.
    now_s : callable
        The computer's clock, by which the device's is timed.
    """

    def __init__(
        self,
        stimulus: Samples,
        *,
        output_column: int,
        input_columns: tuple[int, ...],
        run_in_frames: int,
        run_out_frames: int,
        fade_frames: int,
        halted: Callable[[], bool] = lambda: False,
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._stimulus = stimulus.copy()
        self._output_column = output_column
        self._input_columns = list(input_columns)
        self._run_in_frames = run_in_frames
        self._run_out_frames = run_out_frames
        self._fade_frames = fade_frames
        self._halted = halted
        self._now_s = now_s
        self.pace = Pace()
        self._stop_wanted = threading.Event()
        self._ends = len(stimulus)
        self._passed = 0
        self._metered = 0
        self._peaks = (0.0,) * len(input_columns)
        # Filled, not empty: the memory must exist before the callback writes to it in real time.
        self.recorded: Samples = np.full((len(stimulus), len(input_columns)), np.nan, np.float32)
        self.flags: tuple[str, ...] = ()
        self.error: BaseException | None = None
        self.stopped = False
        self.over = threading.Event()

    def exchange(self, heard: Samples, played: Samples, flags: tuple[str, ...] = ()) -> None:
        """Serve one block, shapes (frames, channels); always fills `played`."""
        played.fill(0.0)
        if self.over.is_set():
            return
        try:
            self._serve(heard, played, flags)
        except BaseException as error:  # noqa: BLE001 - out of a callback it would end in silence
            played.fill(0.0)
            self.error = error
            self.over.set()

    def stop(self) -> None:
        """Fade out at the next block and be over."""
        self._stop_wanted.set()

    def moved(self) -> Moved:
        """Return how far the tape has come, with the peaks since the last call."""
        passed = self._passed
        until = min(max(passed - self._run_in_frames, 0), len(self.recorded))
        if until > self._metered:
            new = np.abs(self.recorded[self._metered : until])
            self._peaks = tuple(float(peak) for peak in np.fmax.reduce(new, axis=0))
            self._metered = until
        return Moved(passed, until, self._peaks)

    def _serve(self, heard: Samples, played: Samples, flags: tuple[str, ...]) -> None:
        frames = len(played)
        self.pace.note(self._now_s(), self._passed)
        first = self._passed - self._run_in_frames  # place of this block's first frame on the tape
        if not self.stopped and (self._stop_wanted.is_set() or self._halted()):
            self._fade_from(first, frames)
        start, stop = max(first, 0), min(first + frames, len(self._stimulus))
        if start < stop:
            played[start - first : stop - first, self._output_column] = self._stimulus[start:stop]
            self.recorded[start:stop] = heard[start - first : stop - first, self._input_columns]
        self._passed += frames
        if first + frames > 0:
            self.flags += tuple(flag for flag in flags if flag not in self.flags)
        if first + frames >= self._ends + self._run_out_frames:
            self.over.set()

    def _fade_from(self, first: int, frames: int) -> None:
        self.stopped = True
        # What has not begun need not fade.
        n_fade = min(self._fade_frames, frames) if first > 0 else 0
        place = max(first, 0)
        fade = np.linspace(1.0, 0.0, n_fade + 1, dtype=np.float32)[1:]
        faded = self._stimulus[place : place + n_fade]
        faded *= fade[: len(faded)]
        self._stimulus[place + n_fade :] = 0.0
        self._ends = min(place + n_fade, self._ends)
