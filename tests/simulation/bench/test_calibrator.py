"""Calibrator, resistor, aged sensors and a real capsule are what they claim, by closed forms."""

from __future__ import annotations

import threading
from collections.abc import Mapping

import numpy as np
import pytest

from station.errors import RefusedInputError
from station.hardware.files.microphonefile import MicrophoneCorrection
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.calibrator import SimulatedCalibrator
from station.simulation.bench.capsule import capsule_ratio
from station.simulation.bench.stationfile import simulated_station
from tests.simulation.fakes import FakeClock

STATION, TEXT = simulated_station()
MICROPHONE, VOLTAGE, CURRENT, AMBIENT = range(4)
RATE_HZ = 96000.0
N = 96000
PA_94 = 1.00237  # 20 µPa times 10^(94/20)


def bench(correction: MicrophoneCorrection | None = None) -> SimulatedBench:
    return SimulatedBench(
        STATION, seed=7, faults_of={}, paced=False, clock=FakeClock(), correction=correction
    )


def recorded(twin: SimulatedBench, output: np.ndarray | None = None) -> np.ndarray:
    played = np.zeros(N) if output is None else output
    capture = twin.audio.play_and_record(played, on_meter=lambda _: None, stop=threading.Event())
    scales = np.array([one.full_scale for one in STATION.inputs])
    return np.asarray(capture.samples * scales[:, None])


def rms(signal: np.ndarray) -> float:
    return float(np.sqrt(np.mean(signal**2)))


def tone(level_v: float) -> np.ndarray:
    time_s = np.arange(N) / RATE_HZ
    return np.asarray(
        np.sqrt(2.0) * level_v / STATION.audio.output_full_scale_v * np.sin(2e3 * np.pi * time_s)
    )


@pytest.mark.parametrize(
    ("level_db_spl", "faults", "expected_pa"),
    [
        (94.0, {}, PA_94),
        (114.0, {}, 10.0 * PA_94),
        (94.0, {"station_calibrator_error": 20.0}, 10.0 * PA_94),
        (94.0, {"station_aged_microphone": 6.0206}, 0.5 * PA_94),
    ],
)
def test_a_calibrator_gives_its_level_to_its_microphone_alone(
    level_db_spl: float, faults: Mapping[str, float], expected_pa: float
) -> None:
    twin = bench()
    twin.fixture.put_calibrator(SimulatedCalibrator("microphone", level_db_spl, 1000.0), faults)
    heard = recorded(twin)
    # The microphone's own noise of 22 dB SPL is 72 dB below.
    assert rms(heard[MICROPHONE]) == pytest.approx(expected_pa, rel=1e-4)
    # The other microphone hears a room of 45 dB SPL, 3.6 mPa.
    assert rms(heard[AMBIENT]) == pytest.approx(3.6e-3, rel=0.1)
    assert rms(heard[VOLTAGE]) < 1e-3


def test_its_tone_has_the_frequency_and_the_company_it_was_made_with() -> None:
    twin = bench()
    worn = SimulatedCalibrator("ambient", 94.0, 990.0, swing_db=0.3, second_harmonic_ratio=0.05)
    twin.fixture.put_calibrator(worn, {})
    heard = recorded(twin)[AMBIENT]
    spectrum = np.abs(np.fft.rfft(heard * np.hanning(N)))
    assert int(np.argmax(spectrum)) == 990  # bins of 1 Hz
    assert spectrum[1980] / spectrum[990] == pytest.approx(0.05, rel=0.02)
    levels_db = 20.0 * np.log10([rms(block) for block in heard.reshape(32, -1)])
    assert 0.5 * np.ptp(levels_db) == pytest.approx(0.3, abs=0.02)


@pytest.mark.parametrize("resistance_ohm", [3.9, 8.2])
def test_voltage_over_current_is_the_resistance(resistance_ohm: float) -> None:
    twin = bench()
    twin.fixture.put_resistor(resistance_ohm, {})
    heard = recorded(twin, tone(2.83))
    assert rms(heard[VOLTAGE]) / rms(heard[CURRENT]) == pytest.approx(resistance_ohm, rel=1e-4)
    # Amplifier and cable, 0.09 Ω, take their share of 2.83 V.
    drop = resistance_ohm / (resistance_ohm + 0.09)
    sounding = heard[VOLTAGE][2000:]  # after the latency
    assert rms(sounding) == pytest.approx(2.83 * drop, rel=1e-3)
    assert rms(heard[MICROPHONE]) < 0.01  # only the room


def test_an_aged_current_sense_gives_less() -> None:
    twin = bench()
    twin.fixture.put_resistor(8.0, {"station_aged_current": 1.0})
    heard = recorded(twin, tone(2.83))
    ratio = rms(heard[VOLTAGE]) / rms(heard[CURRENT])
    assert 20.0 * np.log10(ratio / 8.0) == pytest.approx(1.0, abs=1e-3)


def test_released_there_is_nothing_left_of_either() -> None:
    twin = bench()
    twin.fixture.put_calibrator(SimulatedCalibrator("microphone", 94.0, 1000.0), {})
    twin.fixture.put_resistor(8.0, {"station_aged_current": 1.0})
    assert rms(recorded(twin)[MICROPHONE]) < 0.01
    twin.fixture.release()
    assert rms(recorded(twin, tone(2.0))[CURRENT]) < 1e-3


def test_a_fault_of_a_unit_cannot_be_planted_without_one() -> None:
    with pytest.raises(RefusedInputError, match="there is none") as refused:
        bench().fixture.put_resistor(8.0, {"coil_rub": 70.0})
    assert "station_aged_current" in refused.value.remedy
    assert "reversed_woofer" not in refused.value.remedy
    with pytest.raises(RefusedInputError, match="cannot have the severity 99"):
        bench().fixture.put_resistor(8.0, {"station_aged_current": 99.0})


def test_a_capsule_bends_what_its_microphone_hears() -> None:
    table = MicrophoneCorrection((100.0, 1000.0, 4000.0), (0.0, -6.0206, -6.0206), (0.0, 0.0, 90.0))
    # Half way from 1 to 4 kHz in octaves is 2 kHz; −6.02 dB is a half.
    ratio = capsule_ratio(table, np.array([10.0, 1000.0, 2000.0, 40000.0]))
    np.testing.assert_allclose(ratio, [1.0, 0.5, 0.5 * np.exp(0.25j * np.pi), 0.5j], atol=1e-5)
    twin = bench(table)
    twin.fixture.put_calibrator(SimulatedCalibrator("microphone", 94.0, 1000.0), {})
    assert rms(recorded(twin)[MICROPHONE]) == pytest.approx(0.5 * PA_94, rel=1e-3)
