"""`station stimulus`: the exact excitation as a file, for players that are not ours."""

from __future__ import annotations

import math
from pathlib import Path

import click
import numpy as np
import soundfile

from station.analysis.signals.sweep import stimulus_voltage
from station.cli.shared.exitcodes import Exit
from station.errors import RecordsError, RefusedInputError
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import steps_of, sweep_of
from station.records.recordings.blank_sidecar import blank_sidecar


def write_stimulus(out: Path, limits_path: Path, full_scale_v: float | None) -> int:
    """Write the sweep as 24-bit WAV, and beside it what a recording of it must say of itself."""
    if out.suffix.lower() != ".wav":
        raise RefusedInputError(f"{out} does not end in .wav.", "Name the file OUT.wav.")
    limits, _ = limit_file(limits_path)
    sweep, steps = sweep_of(limits), steps_of(limits)
    voltage_v = stimulus_voltage((sweep, *steps))
    peak_v = math.sqrt(2.0) * max(part.level_v for part in (sweep, *steps))
    full_scale_v = full_scale_v or peak_v
    if full_scale_v < peak_v:
        raise RefusedInputError(
            f"The sweep's peak of {peak_v:.3f} V does not fit into {full_scale_v:g} V full scale.",
            f"Say --full-scale-v {peak_v:.3f} or more.",
        )
    sidecar = out.with_suffix(".recorded.toml")
    try:
        soundfile.write(
            out, np.minimum(voltage_v / full_scale_v, 1.0), int(sweep.rate_hz), "PCM_24"
        )
        sidecar.write_text(blank_sidecar(sweep, steps), encoding="utf-8")
    except (OSError, soundfile.LibsndfileError) as error:
        raise RecordsError(f"{out} cannot be written: {error}.", "Choose another place.") from error
    click.echo(
        f"{out}: {voltage_v.size / sweep.rate_hz:.3f} s at {sweep.rate_hz:g} Hz; "
        f"sample value 1.0 is {full_scale_v:.4f} V peak at the terminals."
    )
    click.echo(f"{sidecar}: fill it in, and put it beside a recording as its NAME.toml.")
    return Exit.PASS
