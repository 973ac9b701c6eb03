"""`station window`: the response at several angles, on the turntable."""

from __future__ import annotations

import json
from pathlib import Path

import click
import numpy as np

from station.analysis.acoustic.directivity import (
    PolarResponse,
    listening_window_db,
    off_axis_difference_db,
)
from station.cli.shared.exitcodes import Exit
from station.cli.shared.stopping import stoppable
from station.cli.shared.tables import plain_table
from station.cli.wiring.wiring import held_bench
from station.cycle.trials.trial import order_for
from station.cycle.unit.polar import polar_response
from station.errors import RefusedInputError
from station.judging.files.shelf import limit_shelf
from station.judging.words.words import frequency_words

FORMAT = 1
ROWS_PER_OCTAVE = 3


def show_window(
    serial: str,
    angles: str,
    limits_folder: Path,
    station_file: Path | None,
    *,
    simulate: bool,
    seed: int,
    as_json: bool,
) -> int:
    """Measure a unit at every angle and show what was heard; nothing is judged or stored."""
    angles_deg = parsed_angles(angles)
    order = order_for(serial, limit_shelf(limits_folder).for_serial(serial))
    bench_held = held_bench(
        simulate=simulate,
        path=station_file,
        temperature_c=None,
        seed=seed,
        faults_of=lambda _: {},
        paced=False,
    )

    def tell(angle_deg: float) -> None:
        click.echo(f"Turning to {angle_deg:g}°; the sweep that follows is loud.", err=True)

    with bench_held as bench, stoppable() as stop:
        polar = polar_response(bench, order, angles_deg, on_angle=tell, stop=stop)
    click.echo(window_json(serial, polar) if as_json else window_text(polar))
    return Exit.PASS


def parsed_angles(text: str) -> tuple[float, ...]:
    """Return angles from words between commas; refuse what is none."""
    try:
        angles_deg = tuple(float(word) for word in text.split(","))
    except ValueError:
        angles_deg = (float("nan"),)
    if not all(abs(angle_deg) <= 180.0 for angle_deg in angles_deg):
        raise RefusedInputError(
            f"{text!r} is no list of angles.", "Give degrees from -180 to 180, such as -15,0,15."
        )
    return angles_deg


def window_text(polar: PolarResponse) -> str:
    """Return the mean of all angles, and every angle against the axis, some rows an octave."""
    window_db = listening_window_db(polar, list(polar.angle_deg))
    difference_db = off_axis_difference_db(polar)
    octaves = np.log2(polar.frequency_hz / polar.frequency_hz[0]) * ROWS_PER_OCTAVE
    shown = np.flatnonzero(np.diff(np.floor(octaves + 1e-6), prepend=-1.0) > 0.0)
    headers = (
        "",
        "mean of all angles",
        *(f"{angle_deg:+g}° to 0°" for angle_deg in polar.angle_deg),
    )
    rows = [
        (
            frequency_words(float(polar.frequency_hz[index])),
            f"{window_db[index]:.1f} dB",
            *(f"{level_db:+.1f} dB" for level_db in difference_db[:, index]),
        )
        for index in shown
    ]
    return plain_table(headers, rows)


def window_json(serial: str, polar: PolarResponse) -> str:
    """Return all of it as one object."""
    window_db = listening_window_db(polar, list(polar.angle_deg))
    found = {
        "format": FORMAT,
        "serial": serial,
        "hz": finite(polar.frequency_hz),
        "angles_deg": finite(polar.angle_deg),
        "level_db": [finite(row) for row in polar.level_db],
        "mean_db": finite(window_db),
    }
    return json.dumps(found, ensure_ascii=False, allow_nan=False)


def finite(values: np.ndarray) -> list[float | None]:
    """Return values for JSON: null where one is not finite."""
    return [float(value) if np.isfinite(value) else None for value in values]
