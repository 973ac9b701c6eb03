"""Sweeps at rising levels on the simulated line: the limiter of a powered unit is found."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import numpy as np
import pytest
import scipy.optimize

from station.analysis.measure import measure
from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import plan_of, steps_of
from station.judging.files.shelf import limit_shelf
from station.records.recordings.recording_file import read_recording
from station.simulation.products.scree12 import NOMINAL
from tests.cycle.line import LIMITS, run_unit, simulated_line

RISING = """
[readings.compression]
from_hz = 31.5
to_hz = 50.0
bands_per_octave = 3
levels_v = {levels_v}
duration_s = 0.4
silence_s = 0.15
gate_s = 0.1
reached_db = 1.0
"""


def limits_folder(folder: Path, levels_v: list[float]) -> Path:
    """Return the demo limits, those of the powered unit with rising levels."""
    shutil.copytree(LIMITS, folder)
    path = folder / "scree12.toml"
    text = path.read_text().replace("largest_peak_v = 1.0", "largest_peak_v = 100.0")
    path.write_text(text + RISING.format(levels_v=levels_v))
    return folder


def soft_limited_gain(amplitude: float) -> float:
    """Return the fundamental's gain through x / (1 + x^6)^(1/6), by its Fourier integral."""
    turn = 2.0 * np.pi * (np.arange(4096) + 0.5) / 4096
    x = amplitude * np.sin(turn)
    return float(2.0 * np.mean(x / (1.0 + np.abs(x) ** 6) ** (1.0 / 6.0) * np.sin(turn)))


def test_the_limiter_of_a_powered_unit_sets_in_at_its_rail(tmp_path: Path) -> None:
    folder = limits_folder(tmp_path / "limits", [0.25, 0.5, 1.0, 1.5, 2.0, 2.8])
    with simulated_line(tmp_path / "logs", {}, shelf=limit_shelf(folder)) as (cycle, log):
        run_unit(cycle, "S12A00301")
        (run,) = log.runs_of("S12A00301")
        path = log.path_of(run.recording)
    amplitude = scipy.optimize.brentq(
        lambda a: 20.0 * math.log10(soft_limited_gain(a) / a) + 1.0, 0.1, 10.0
    )
    electronics = NOMINAL.electronics
    rail_v = electronics.peak_v / electronics.gain_ratio * amplitude / math.sqrt(2.0)
    onset_v = run.readings.numbers["compression_onset"].value
    # The unit's gain spreads by a few percent, and its driver gives way a little too.
    assert onset_v == pytest.approx(rail_v, rel=0.12)
    recording, _ = read_recording(path)
    limits, _ = limit_file(folder / "scree12.toml")
    assert [step.sweep for step in recording.steps] == list(steps_of(limits))
    again = measure(recording, plan_of(limits)).readings
    assert again.numbers["compression"] == run.readings.numbers["compression"]


def test_a_level_beyond_the_amplifier_is_refused_before_anything_plays(tmp_path: Path) -> None:
    shelf = limit_shelf(limits_folder(tmp_path / "limits", [0.5, 50.0]))
    with (
        simulated_line(tmp_path / "logs", {}, shelf=shelf) as (cycle, _),
        pytest.raises(RefusedInputError, match=r"needs 70\.71 V peak"),
    ):
        run_unit(cycle, "S12A00302")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (("[0.5, 1.0]", "[1.0, 0.5]"), "levels_v must rise"),
        (("duration_s = 0.4", "duration_s = 0.01"), "duration_s must be"),
    ],
)
def test_a_wrong_table_is_refused_with_its_line(
    tmp_path: Path, changed: tuple[str, str], said: str
) -> None:
    path = limits_folder(tmp_path / "limits", [0.5, 1.0]) / "scree12.toml"
    head, tail = path.read_text().rsplit("[readings.compression]", 1)
    path.write_text(f"{head}[readings.compression]{tail.replace(*changed)}")
    with pytest.raises(RefusedInputError, match=said):
        limit_file(path)
