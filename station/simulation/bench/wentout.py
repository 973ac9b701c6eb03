"""What went out of the simulated audio device, block by block, under the real device's contract.

The real device's tape hands out the blocks, so that a lid that opens in mid-sweep silences the
simulated output after exactly as many samples as the real one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.hardware.child.tape import Tape
from station.simulation.arrays import FloatArray

FADE_S = 0.01

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class WentOut:
    """What was handed to the output, whole blocks, and whether it was cut short."""

    samples: Samples
    cut_short: bool


def went_out(
    output: FloatArray,
    rate_hz: float,
    block_frames: int,
    *,
    halted: Callable[[], bool],
    pass_time: Callable[[float, float], None],
) -> WentOut:
    """Return what goes out; `pass_time` is told from when to when each block plays."""
    tape = Tape(
        output.astype(np.float32),
        output_column=0,
        input_columns=(0,),
        run_in_frames=0,
        run_out_frames=0,
        fade_frames=round(FADE_S * rate_hz),
        halted=halted,
    )
    heard = np.zeros((block_frames, 1), dtype=np.float32)
    blocks = []
    begin = 0
    while begin < output.size:
        played = np.empty_like(heard)
        tape.exchange(heard, played)
        blocks.append(played[:, 0])
        end = begin + block_frames
        pass_time(begin / rate_hz, min(end, output.size) / rate_hz)
        begin = end
    return WentOut(np.concatenate(blocks), tape.stopped)
