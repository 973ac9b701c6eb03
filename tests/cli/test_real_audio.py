"""`station test` through a real PortAudio, against the same unit in simulation."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.fft
from numpy.typing import NDArray

from station.analysis.measure import measure
from station.analysis.signals.sweep import sweep_voltage
from station.cli.wiring.wiring import LOCK_FOLDER
from station.cycle.bench.bench import recording_of
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import plan_of, sweep_of
from station.records.log.log import RunLog
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from station.simulation.products.units import unit_truth
from tests.cycle.line import LIMITS, SteadyClock
from tests.hardware.conftest import portaudio as portaudio  # noqa: PLC0414 - the same fixture
from tests.hardware.jackbench import JackBench, jack_speaker

pytestmark = [pytest.mark.tools, pytest.mark.usefixtures("portaudio")]

SERIAL, SEED = "T2A00701", 1
RATE_HZ, TAPS = 96_000.0, 32_768
OUTPUT_FULL_SCALE_V = 20.0
FULL_SCALES = {"microphone": 2.0, "voltage": 2.0, "current": 0.4}
LEAD_SAMPLES = 256  # room for what a band-limited impulse has before its peak
SOUND_M_PER_S = 343.2  # at 20 °C
# At 0.2 V the simulated drivers are linear to far below 0.05 dB, as the impulse responses are.
QUIET_V = 0.2


def impulse(spectrum: NDArray[np.complex128], full_scale: float) -> NDArray[np.float64]:
    fir: NDArray[np.float64] = scipy.fft.irfft(spectrum, TAPS)
    return fir * OUTPUT_FULL_SCALE_V / full_scale


def firs_of_unit() -> NDArray[np.float64]:
    unit = unit_truth(SERIAL, SEED, {})
    frequency_hz = np.fft.rfftfreq(TAPS, 1.0 / RATE_HZ)
    frequency_hz[0] = frequency_hz[1]
    late_s = LEAD_SAMPLES / RATE_HZ
    lead = np.exp(-2j * np.pi * frequency_hz * late_s)
    flight = np.exp(-2j * np.pi * frequency_hz / SOUND_M_PER_S)
    pressure = unit.response(frequency_hz) * lead * flight
    pressure[0] = 0.0
    current = lead / unit.impedance(frequency_hz)
    return np.stack(
        [
            impulse(pressure, FULL_SCALES["microphone"]),
            impulse(lead, FULL_SCALES["voltage"]),
            impulse(current, FULL_SCALES["current"]),
        ]
    )


@dataclass(frozen=True)
class RealStation:
    """A folder with a station file for the running bench and quiet limits."""

    folder: Path
    bench: JackBench

    def command(self, *more: str) -> list[str]:
        folder = self.folder
        places = ["--station-file", f"{folder}/station.toml", "--limits-folder", f"{folder}/limits"]
        logs = ["--logs", f"{folder}/logs"]
        # changed for this bench, so not released
        return [sys.executable, "-m", "station", "test", SERIAL, "--trial", *places, *logs, *more]


@pytest.fixture
def real(tmp_path: Path, tool: Callable[[str], str]) -> Iterator[RealStation]:
    tool("jack_wait")
    text = (LIMITS / "tarn2.toml").read_text()
    assert "level_v = 2.83" in text
    quiet = text.replace("level_v = 2.83", f"level_v = {QUIET_V}")
    shutil.copytree(LIMITS, tmp_path / "limits", ignore=shutil.ignore_patterns("[fs]*"))
    (tmp_path / "limits" / "tarn2.toml").write_text(
        quiet.replace("silent_below_dbfs = -105.0", "silent_below_dbfs = -120.0")
    )
    with jack_speaker(
        firs_of_unit(), tmp_path, jackd=tool("jackd"), output_full_scale_v=OUTPUT_FULL_SCALE_V
    ) as bench:
        (tmp_path / "station.toml").write_text(bench.station_text(FULL_SCALES))
        yield RealStation(tmp_path, bench)


def simulated_readings(limits_path: Path) -> Any:
    limits, _ = limit_file(limits_path)
    station, _ = simulated_station()
    twin = SimulatedBench(
        station, seed=SEED, faults_of={}, paced=False, clock=SteadyClock(),
        ambient_db_spl=-20.0, reflections=False,
    )  # fmt: skip
    twin.fixture.secure(SERIAL, "Tarn 2")
    sweep = sweep_of(limits)
    output = sweep_voltage(sweep) / station.audio.output_full_scale_v
    capture = twin.audio.play_and_record(output, on_meter=lambda _: None, stop=threading.Event())
    return measure(recording_of(capture, station, sweep), plan_of(limits)).readings


def test_real_audio_reads_what_the_simulation_reads(real: RealStation) -> None:
    done = subprocess.run(
        real.command("--json"), capture_output=True, text=True, check=False, timeout=120
    )
    run = json.loads(done.stdout.splitlines()[-1])
    assert run["verdict"] != "void", run["causes"]
    assert not run["simulated"]
    expected = simulated_readings(real.folder / "limits" / "tarn2.toml")
    # Below 0.05 dB over the whole response; impedance the same in its own terms, 0.05 dB = 0.58 %.
    response = np.array(run["readings"]["response"]["values"])
    assert np.max(np.abs(response - expected.curves["response"].values)) < 0.05
    impedance = np.array(run["readings"]["impedance"]["values"])
    assert impedance == pytest.approx(expected.curves["impedance"].values, rel=0.0058)
    for name in ("polarity.woofer", "polarity.tweeter"):
        assert run["readings"][name]["value"] == pytest.approx(
            expected.numbers[name].value, abs=0.01
        )
    with RunLog.open(real.folder / "logs") as log:
        assert log.chain_fault() is None
        assert log.runs_of(SERIAL)[-1].recording is not None


def test_ctrl_c_in_mid_sweep_leaves_one_stored_void_and_no_traceback(real: RealStation) -> None:
    with subprocess.Popen(
        real.command(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stderr is not None
        assert "about to play" in process.stderr.readline()
        # The sweep has begun once the speaker hears it.
        while real.bench.speaker.loudest() == 0.0:
            assert process.poll() is None
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    assert process.returncode == 4
    assert "stopped" in err
    assert "Traceback" not in out + err
    with RunLog.open(real.folder / "logs") as log:
        (run,) = log.runs_of(SERIAL)
        assert run.judgement.verdict == "void"


def test_a_second_station_on_the_same_device_is_refused(real: RealStation) -> None:
    first = real.bench.device(LOCK_FOLDER)
    first.prepare()
    try:
        second = subprocess.run(
            real.command(), capture_output=True, text=True, check=False, timeout=60
        )
    finally:
        first.close()
    assert second.returncode == 4
    assert "Another station uses the audio device" in second.stderr
    assert not (real.folder / "logs").exists()


def test_a_device_that_is_not_there_is_told_with_those_that_are(real: RealStation) -> None:
    path = real.folder / "station.toml"
    path.write_text(path.read_text().replace("bench speaker", "bench speakre"))
    done = subprocess.run(real.command(), capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 4
    assert 'no audio device "bench speakre"' in done.stderr
    assert '"bench speaker"' in done.stderr
