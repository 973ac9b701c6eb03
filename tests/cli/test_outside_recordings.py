"""`station judge` on recordings that programs outside the project made."""

from __future__ import annotations

import json
import math
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.cli.running import exit_code_of
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import sweep_of
from station.records.recordings.blank_sidecar import blank_sidecar
from tests.analysis.distorted import distorted
from tests.ngspice.spice import transient
from tests.ngspice.truth import current_through, truth_ohm

LIMITS = """\
format = 1
[model]
name = "outside"
revision = "1"
serial = ".*"
author = "tests"
day = 2026-11-25
reason = "recordings made elsewhere"
[stimulus]
start_hz = 15.0
faded_in_hz = 19.0
stop_hz = 44000.0
duration_s = 2.0
level_v = 2.0
lead_in_s = 0.2
tail_s = 0.4
rate_hz = 96000.0
[repeats]
void = 0
noise = 0
[integrity]
level_tolerance_db = 0.5
silent_below_dbfs = -140.0
residual_db = -60.0
quiet_below_db_spl = 90.0
[readings.response]
from_hz = 40.0
to_hz = 20000.0
bands_per_octave = 12
gate_s = 0.25
for_v = 1.0
"""
DISTORTION = """\
[readings.distortion]
from_hz = 40.0
to_hz = 3000.0
bands_per_octave = 3
orders = [2, 3]
[[bands]]
reading = "thd"
mode = "absolute"
scale = 1.0
points = [[40.0, -40.5, -39.5], [3000.0, -40.5, -39.5]]
"""
IMPEDANCE = """\
[readings.impedance]
from_hz = 20.0
to_hz = 20000.0
bands_per_octave = 12
gate_s = 0.3
minimum_from_hz = 100.0
minimum_to_hz = 20000.0
[[numbers]]
reading = "impedance_min"
lower = 1.0
scale = 0.1
"""
RESPONSE = """\
[[bands]]
reading = "response"
mode = "absolute"
scale = 1.0
points = [[40.0, 0.0, 120.0], [20000.0, 0.0, 120.0]]
"""


UNITS = {"microphone": "Pa", "voltage": "V", "current": "A"}


class Bench:
    """A folder with a limit file, and a way to judge a WAV file by it."""

    def __init__(self, folder: Path, limits: str, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self.capsys = folder, capsys
        self.limits = folder / "limits.toml"
        self.limits.write_text(LIMITS + limits)

    @property
    def sweep(self) -> Sweep:
        return sweep_of(limit_file(self.limits)[0])

    def sidecar(self, wav: Path, full_scales: dict[str, float], sweep: Sweep | None = None) -> None:
        """Fill in the blank sidecar as a person would: text, not our own writer of recordings."""
        head = blank_sidecar(sweep or self.sweep).split("[[channels]]")[0]
        channels = "".join(
            f'[[channels]]\nchannel = {number}\nrole = "{role}"\n'
            f'unit = "{UNITS[role]}"\nfull_scale = {full_scale}\n'
            for number, (role, full_scale) in enumerate(full_scales.items(), start=1)
        )
        wav.with_suffix(".toml").write_text(head.replace('serial = ""', 'serial = "N1"') + channels)

    def judged(self, wav: Path) -> dict[str, Any]:
        exit_code_of(["judge", str(wav), "--limits", str(self.limits), "--json"])
        captured = self.capsys.readouterr()
        assert captured.err == ""
        found: dict[str, Any] = json.loads(captured.out)
        assert found["serial"] == "N1"
        return found


def closed_form_sweep(sweep: Sweep, oversampling: int) -> NDArray[np.float64]:
    """Return the sweep by its published formula, written out here (Novak et al., 2015)."""
    rate_hz = oversampling * sweep.rate_hz
    octaves = math.log(sweep.stop_hz / sweep.start_hz)
    rate_s = round(sweep.start_hz * sweep.duration_s / octaves) / sweep.start_hz
    time_s = np.arange(math.ceil(rate_s * octaves * rate_hz)) / rate_hz
    phase = 2.0 * np.pi * sweep.start_hz * rate_s * (np.exp(time_s / rate_s) - 1.0)
    rise_s = rate_s * math.log(sweep.faded_in_hz / sweep.start_hz)
    fall_s = rate_s * math.log(2.0) / 12.0
    rise = np.sin(0.5 * np.pi * np.minimum(1.0, time_s / rise_s)) ** 2
    fall = np.sin(0.5 * np.pi * np.minimum(1.0, (rate_s * octaves - time_s) / fall_s)) ** 2
    silence = np.zeros(round(sweep.lead_in_s * rate_hz))
    tail = np.zeros(round(sweep.tail_s * rate_hz))
    return np.concatenate([silence, math.sqrt(2.0) * 2.0 * rise * fall * np.sin(phase), tail])


def test_known_chebyshev_harmonics_are_read_from_a_float_wav(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Chebyshev polynomials T_2 and T_3 with shares of 0.8 % and 0.6 % make, at full amplitude,
    # exactly 1 % of the fundamental: -40 dB. T_n(cos x) = cos(n x).
    bench = Bench(tmp_path, DISTORTION, capsys)
    oversampling = 8
    fine = closed_form_sweep(bench.sweep, oversampling)
    pressure = distorted(fine, {2: 0.008, 3: 0.006}, math.sqrt(2.0) * 2.0)
    n = bench.sweep.n_samples
    spectra = np.fft.rfft(np.stack([fine, pressure])[:, : n * oversampling])[:, : n // 2 + 1]
    voltage_v, pressure_pa = np.fft.irfft(spectra, n) / oversampling
    wav = tmp_path / "chebyshev.wav"
    columns = np.stack([pressure_pa * 0.1 / 4.0, voltage_v / 8.0], axis=1)
    soundfile.write(wav, columns, 96000, "FLOAT")
    bench.sidecar(wav, {"microphone": 4.0, "voltage": 8.0})
    found = bench.judged(wav)
    assert found["verdict"] == "pass"
    thd_db = np.array(found["readings"]["thd"]["values"])
    assert np.max(np.abs(thd_db + 40.0)) < 0.05
    # 0.1 Pa per V is 20 lg(0.1 / 20e-6) = 73.98 dB at 1 V, at every frequency.
    assert found["readings"]["response"]["values"] == pytest.approx(
        [20.0 * math.log10(0.1 / 20e-6)] * len(found["readings"]["response"]["hz"]), abs=0.2
    )


@pytest.mark.parametrize("network", ["driver", "two_way"])
def test_an_impedance_that_ngspice_computed_is_read_from_a_24_bit_wav(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], network: str
) -> None:
    bench = Bench(tmp_path, IMPEDANCE, capsys)
    voltage_v = closed_form_sweep(bench.sweep, 1)[: bench.sweep.n_samples]
    current_a = current_through(network, bench.sweep)
    check_impedance(bench, tmp_path, network, voltage_v, current_a)


@pytest.mark.tools
def test_a_circuit_that_ngspice_swept_in_time_is_judged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], tool: Callable[[str], str]
) -> None:
    bench = Bench(tmp_path, IMPEDANCE, capsys)
    voltage_v, current_a = transient(tool("ngspice"), "two_way", tmp_path, bench.sweep)
    # Fixed steps of 2 us show Z at frequencies up to 0.5 % higher at 20 kHz (bilinear transform);
    # up to 2 kHz that is below 0.005 %.
    check_impedance(bench, tmp_path, "two_way", voltage_v, current_a, up_to_hz=2000.0)


def check_impedance(
    bench: Bench,
    folder: Path,
    network: str,
    voltage_v: NDArray[np.float64],
    current_a: NDArray[np.float64],
    up_to_hz: float = 20e3,
) -> None:
    wav = folder / f"{network}.wav"
    sound = voltage_v * 0.02
    columns = np.stack([sound, voltage_v / 8.0, current_a], axis=1)
    soundfile.write(wav, columns, 96000, "PCM_24")
    bench.sidecar(wav, {"microphone": 1.0, "voltage": 8.0, "current": 1.0})
    readings = bench.judged(wav)["readings"]
    hz = np.array(readings["impedance"]["hz"])
    kept = hz <= up_to_hz
    truth = truth_ohm(network, hz)
    magnitude = np.array(readings["impedance"]["values"])
    phase_deg = np.array(readings["impedance_phase"]["values"])
    assert magnitude[kept] == pytest.approx(np.abs(truth)[kept], rel=1e-3)
    assert phase_deg[kept] == pytest.approx(np.rad2deg(np.angle(truth))[kept], abs=0.1)


@pytest.mark.tools
def test_a_filter_of_sox_is_read_as_its_closed_form(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], tool: Callable[[str], str]
) -> None:
    bench = Bench(tmp_path, RESPONSE, capsys)
    sox, sweep, heard = tool("sox"), tmp_path / "sweep.wav", tmp_path / "heard.wav"
    assert exit_code_of(["stimulus", str(sweep), "--limits", str(bench.limits)]) == 0
    capsys.readouterr()
    corner_hz, rate_hz = 1000.0, 96000.0
    subprocess.run(
        [sox, "-D", sweep, "-b", "24", heard, "lowpass", "-2", f"{corner_hz:.0f}", "0.707107q"],
        check=True,
    )
    wav = tmp_path / "both.wav"
    subprocess.run([sox, "-D", "-M", heard, sweep, "-b", "24", wav], check=True)
    peak_v = math.sqrt(2.0) * 2.0
    bench.sidecar(wav, {"microphone": 1.0, "voltage": peak_v})
    response = bench.judged(wav)["readings"]["response"]
    # Two-pole low-pass of the Audio EQ Cookbook (R. Bristow-Johnson), which sox documents as its
    # source: a Butterworth by the bilinear transform, |H|^2 = 1 / (1 + (tan(wf/2)/tan(wc/2))^4).
    hz = np.array(response["hz"])
    warped = np.tan(np.pi * hz / rate_hz) / math.tan(math.pi * corner_hz / rate_hz)
    level_db = -10.0 * np.log10(1.0 + warped**4) - 20.0 * math.log10(peak_v * 20e-6)
    # Twelfth-octave bands of a 12 dB per octave slope lie 0.02 dB above its value at the centre;
    # sox rounds to 24 bits, which shows where the response is 50 dB down.
    shallow = level_db > level_db.max() - 40.0
    values = np.array(response["values"])
    assert values[shallow] == pytest.approx(level_db[shallow], abs=0.05)


@pytest.mark.parametrize("rate_hz", [44_100.0, 32_000.0])
def test_a_sampling_rate_that_cannot_reach_the_top_frequency_voids(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rate_hz: float
) -> None:
    bench = Bench(tmp_path, RESPONSE, capsys)
    text = bench.limits.read_text()
    slow = replace(bench.sweep, rate_hz=rate_hz, stop_hz=0.49 * rate_hz, duration_s=1.0)
    voltage_v = sweep_voltage(slow)
    wav = tmp_path / "slow.wav"
    soundfile.write(wav, np.stack([voltage_v * 0.01, voltage_v / 8.0], axis=1), int(rate_hz))
    bench.limits.write_text(text.replace("to_hz = 20000.0", "to_hz = 21000.0"))
    bench.sidecar(wav, {"microphone": 1.0, "voltage": 8.0}, slow)
    found = bench.judged(wav)
    assert found["verdict"] == "void"
    assert "response" in found["causes"][0]["happened"]
    assert found["causes"][0]["advice"]
