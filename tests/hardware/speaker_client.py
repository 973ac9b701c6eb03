"""A JACK client that stands where a speaker would: what is played into it comes back, filtered.

Run as a program: ``speaker_client.py NAME FIRS.npy``. Every row of the file, shape
(n_inputs, taps), is the impulse response from the client's one audio input to one of its
outputs; sample for sample, with no delay of its own. It says "ready" when it runs, answers every
empty line of its standard input with the largest sample that is played into it in the next blocks,
a line "log" with a JSON list of the latest blocks, each as [monotonic time, peak, last sample], a
line "forget" by forgetting them, and leaves when its standard input ends, so it never outlives
the test that started it.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from collections import deque
from pathlib import Path

import jack
import numpy as np
from numpy.typing import NDArray

BLOCKS_HEARD = 4
BLOCKS_LOGGED = 2000


class Convolver:
    """Uniformly partitioned overlap-save: one row out for each impulse response, block by block."""

    def __init__(self, firs: NDArray[np.float64], block: int) -> None:
        n_rows, taps = firs.shape
        parts = -(-taps // block)
        padded = np.zeros((n_rows, parts * block))
        padded[:, :taps] = firs
        spectra = np.fft.rfft(padded.reshape(n_rows, parts, block), n=2 * block, axis=2)
        self._spectra = np.ascontiguousarray(spectra.transpose(1, 0, 2))  # part, row, bin
        self._past = np.zeros((parts, block + 1), dtype=np.complex128)
        self._at = 0
        self._window = np.zeros(2 * block)
        self._block = block

    def filtered(self, block: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the next block of every row, shape (n_rows, block)."""
        self._window[: self._block] = self._window[self._block :]
        self._window[self._block :] = block
        parts = len(self._past)
        self._past[self._at] = np.fft.rfft(self._window)
        order = (self._at - np.arange(parts)) % parts
        total = np.zeros(self._spectra.shape[1:], dtype=np.complex128)
        for part, slot in enumerate(order):
            total += self._spectra[part] * self._past[slot]
        self._at = (self._at + 1) % parts
        return np.fft.irfft(total, axis=1)[:, self._block :]


class Listener:
    """How loud it was in the blocks after somebody asked."""

    def __init__(self) -> None:
        self._left = 0
        self._peak = 0.0
        self._heard = threading.Event()
        self._log: deque[tuple[float, float, float]] = deque(maxlen=BLOCKS_LOGGED)

    def forget(self) -> None:
        """Begin the log anew."""
        self._log.clear()

    def log(self) -> list[tuple[float, float, float]]:
        """Return time, peak and last sample of the latest blocks, oldest first."""
        return list(self._log)

    def note(self, block: NDArray[np.float64]) -> None:
        """Take in one block, in the audio thread."""
        peak = float(np.max(np.abs(block)))
        self._log.append((time.monotonic(), peak, float(block[-1])))
        if self._left > 0:
            self._peak = max(self._peak, peak)
            self._left -= 1
            if self._left == 0:
                self._heard.set()

    def loudest(self) -> float:
        """Return the largest sample of the next blocks."""
        self._peak = 0.0
        self._heard.clear()
        self._left = BLOCKS_HEARD
        self._heard.wait()
        return self._peak


def main(name: str, firs_path: Path) -> None:
    """Be the speaker until standard input ends."""
    client = jack.Client(name, no_start_server=True)
    firs = np.load(firs_path)
    convolver = Convolver(firs, client.blocksize)
    listener = Listener()
    drive = client.inports.register("drive")
    heard = [client.outports.register(f"heard_{row + 1}") for row in range(len(firs))]

    @client.set_process_callback
    def process(_frames: int) -> None:
        played = drive.get_array().astype(np.float64)
        listener.note(played)
        for port, row in zip(heard, convolver.filtered(played), strict=True):
            port.get_array()[:] = row

    with client:
        print("ready", flush=True)
        for question in sys.stdin:
            print(answer(listener, question.strip()), flush=True)


def answer(listener: Listener, question: str) -> str:
    """Return the answer to a line of standard input."""
    if question == "forget":
        listener.forget()
        return "forgotten"
    return json.dumps(listener.log()) if question == "log" else str(listener.loudest())


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
