"""A calibration finds what the twin was made with, and refuses what cannot be."""

from __future__ import annotations

import json
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from station.analysis.arrays import FloatArray
from station.analysis.calibration import Calibrator, microphone_calibration
from station.analysis.statistics.uncertainty import Estimate
from station.cycle.calibration.calibrating import calibrate_current, calibrate_microphone
from station.errors import AudioError, NoSignalError, RefusedInputError, StoppedError
from station.hardware.protocols.audio import Capture, MeterCallback
from station.records.kept.calibration import Means
from station.simulation.bench.calibrator import SimulatedCalibrator
from tests.cycle.calibrated import calibrated_station

# Full scales of the simulated station file; the twin's sensors are exactly these.
MICROPHONE_PA, CURRENT_A = 20.0, 20.0


def test_a_calibrator_tells_what_the_microphones_full_scale_means(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        found = station.by_calibrator()
        assert found.accepted
        # The microphone's noise is 72 dB below the tone and averaged over 2.75 s.
        assert found.full_scale == pytest.approx(MICROPHONE_PA, rel=1e-5)
        # The calibrator's 0.1 dB is by far the largest uncertainty.
        assert found.standard_uncertainty_db == pytest.approx(0.1, rel=0.01)
        assert found.drift_db is None
        assert "first calibration of the microphone: +0.00 dB from the station file" in (
            found.happened
        )
        assert (found.means, found.nominal, found.unit) == (Means.CALIBRATOR, 94.0, "Pa")
        assert (found.calibrated_by, found.temperature_c) == ("N. Ørsted", 21.0)
        assert station.log.calibrations() == (found,)


def test_a_resistor_tells_what_the_currents_full_scale_means(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        found = station.by_resistor()
        assert found.accepted
        assert found.full_scale == pytest.approx(CURRENT_A, rel=1e-5)
        # 0.2 % of the resistor and 0.3 % of the voltage: 0.36 %, which is 8.686 * 0.0036 dB.
        assert found.standard_uncertainty_db == pytest.approx(0.0313, rel=0.01)
        assert (found.means, found.nominal, found.unit) == (Means.RESISTOR, 8.2, "A")
        # Said to be 1 dB more resistance, it would seem 1 dB less current for the same samples.
        wrong = station.by_resistor(8.2 * 10.0 ** (1.0 / 20.0))
        assert wrong.drift_db == pytest.approx(-1.0, abs=1e-3)
        assert not wrong.accepted


@pytest.mark.parametrize("role", ["microphone", "ambient"])
def test_each_microphone_is_calibrated_by_itself(tmp_path: Path, role: str) -> None:
    with calibrated_station(tmp_path) as station:
        found = station.by_calibrator(role=role)
        assert found.place.role == role
        assert found.full_scale == pytest.approx(MICROPHONE_PA, rel=1e-5)


@pytest.mark.parametrize("lost_db", [0.3, -0.45])
def test_a_small_drift_is_told_and_taken_over(tmp_path: Path, lost_db: float) -> None:
    with calibrated_station(tmp_path) as station:
        station.by_calibrator()
        station.clock.later(days=1)
        found = station.by_calibrator(faults={"station_aged_microphone": lost_db})
        assert found.accepted
        assert found.drift_db == pytest.approx(lost_db, abs=1e-3)
        assert f"has drifted by {lost_db:+.2f} dB since 2026-11-23 06:00 UTC" in found.happened
        # What has lost sensitivity needs more pressure to reach full scale.
        assert found.full_scale == pytest.approx(20.0 * 10.0 ** (lost_db / 20.0), rel=1e-4)
        assert found.full_scale_before == pytest.approx(MICROPHONE_PA, rel=1e-5)


def test_a_large_drift_is_refused_with_both_ways_out(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        first = station.by_calibrator()
        found = station.by_calibrator(faults={"station_aged_microphone": 0.8})
        assert not found.accepted
        assert "+0.80 dB" in found.happened
        assert "0.5 dB are allowed" in found.happened
        assert "call the technician" in found.remedy
        assert "full_scale in the station file to 21.93" in found.remedy  # 20 Pa and 0.8 dB
        assert station.log.newest_calibration(first.place, accepted=True) == first
        again = station.by_calibrator()  # compared with the accepted one, not with the refused
        assert again.accepted
        assert again.drift_db == pytest.approx(0.0, abs=1e-3)


def test_an_aged_current_sense_is_found_and_refused(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        station.by_resistor()
        found = station.by_resistor(faults={"station_aged_current": 0.3})
        assert found.drift_db == pytest.approx(0.3, abs=1e-3)
        assert not found.accepted
        assert "The current sense has drifted by +0.30 dB" in found.happened


@pytest.mark.parametrize(("said", "real"), [(94.0, 114.0), (114.0, 94.0)])
@pytest.mark.parametrize("earlier", [0, 1])
def test_a_calibrator_at_its_other_level_is_told(
    tmp_path: Path, said: float, real: float, earlier: int
) -> None:
    with calibrated_station(tmp_path) as station:
        for _ in range(earlier):
            station.by_calibrator()
        found = station.by_calibrator(said, faults={"station_calibrator_error": real - said})
        assert not found.accepted
        assert f"The tone is that of {real:g} dB, not of {said:g} dB" in found.happened
        assert f"Say --level {real:g}" in found.remedy
        assert station.by_calibrator().accepted


@pytest.mark.parametrize(
    ("calibrator", "told"),
    [
        (SimulatedCalibrator("ambient", 94.0, 1000.0), "No steady tone"),
        (SimulatedCalibrator("microphone", 94.0, 985.0), "985.0 Hz, not 1000 Hz"),
        (SimulatedCalibrator("microphone", 94.0, 1000.0, swing_db=0.3), "level moves by 0.3"),
        (
            SimulatedCalibrator("microphone", 94.0, 1000.0, second_harmonic_ratio=0.05),
            "only 26 dB below",
        ),
        (SimulatedCalibrator("microphone", 94.0, 1000.0, leak_db_spl=75.0), "only 2"),
        (SimulatedCalibrator("microphone", 126.0, 1000.0), "clips"),
    ],
)
def test_what_is_no_calibration_is_told_and_not_stored(
    tmp_path: Path, calibrator: SimulatedCalibrator, told: str
) -> None:
    with calibrated_station(tmp_path) as station:
        with pytest.raises(NoSignalError, match=told):
            station.by_calibrator(calibrator=calibrator)
        assert station.log.calibrations() == ()


@pytest.mark.parametrize("connected", ["T2A00101", "F6A00101", None])
def test_what_is_no_resistor_is_told_and_not_stored(tmp_path: Path, connected: str | None) -> None:
    with calibrated_station(tmp_path) as station:
        station.twin.fixture.release()
        if connected is not None:
            station.twin.fixture.secure(connected, "any")
        with pytest.raises(NoSignalError, match="not that of a resistor"):
            calibrate_current(
                station.bench, station.log, 8.2, station.asked(), stop=threading.Event()
            )
        assert station.log.calibrations() == ()


class AudioGiving:
    """An audio device that delivers what it was made with."""

    rate_hz = 96000.0

    def __init__(self, capture: Capture | Exception) -> None:
        self.capture = capture

    def play_and_record(
        self, output: FloatArray, *, on_meter: MeterCallback, stop: threading.Event
    ) -> Capture:
        if isinstance(self.capture, Exception):
            raise self.capture
        return self.capture

    def silence(self) -> None:
        pass

    def close(self) -> None:
        pass


@pytest.mark.parametrize(
    ("capture", "error", "told"),
    [
        (Capture(np.zeros((4, 288000)), ("input overflow",)), NoSignalError, "input overflow"),
        (Capture(np.full((4, 288000), np.nan)), NoSignalError, "no numbers"),
        (AudioError("There is no device.", "Switch it on."), AudioError, "no device"),
        (StoppedError("Stopped.", "Again."), StoppedError, "Stopped"),
    ],
)
def test_a_device_that_fails_leaves_nothing(
    tmp_path: Path, capture: Capture | Exception, error: type[Exception], told: str
) -> None:
    with calibrated_station(tmp_path) as station:
        station.bench = replace(station.bench, audio=AudioGiving(capture))
        with pytest.raises(error, match=told):
            station.by_calibrator()
        assert station.log.calibrations() == ()


def test_an_input_without_a_table_is_refused(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        bare = station.bench.station.model_copy(update={"calibration": None})
        station.bench = replace(station.bench, station=bare)
        with pytest.raises(RefusedInputError, match=r"no table \[calibration.microphone\]"):
            station.by_calibrator()
        with pytest.raises(RefusedInputError, match=r"no table \[calibration.current\]"):
            station.by_resistor()


def test_the_result_can_be_computed_again_from_the_recording(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        found = station.by_calibrator(faults={"station_aged_microphone": 0.2})
    path = tmp_path / "calibrations" / found.recording.name
    with soundfile.SoundFile(path) as file:
        samples, facts = file.read().T, json.loads(file.comment)
    row = [channel["role"] for channel in facts["channels"]].index("microphone")
    calibrator = Calibrator(Estimate(facts["nominal"], 0.1), 1000.0, 0.01, 0.03, 0.1)
    # The first quarter of a second is not analysed: 24000 samples.
    again = microphone_calibration(samples[row, 24000:], 96000.0, calibrator)
    assert again.full_scale_pa.value == found.full_scale
    assert again.full_scale_pa.standard_uncertainty == found.standard_uncertainty


def test_two_calibrations_need_two_names(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        station.twin.fixture.put_calibrator(SimulatedCalibrator("microphone", 94.0, 1000.0), {})
        asked = station.asked()
        calibrate_microphone(
            station.bench, station.log, "microphone", 94.0, asked, stop=threading.Event()
        )
        with pytest.raises(Exception, match="exists already"):
            calibrate_microphone(
                station.bench, station.log, "microphone", 94.0, asked, stop=threading.Event()
            )
        assert len(station.log.calibrations()) == 1
