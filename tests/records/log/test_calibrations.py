"""Calibrations are kept for ever, and each input finds its own newest one."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from station.analysis.recording import Channel
from station.errors import RecordsError
from station.records.kept.calibration import Means, used
from station.records.kept.run import RecordingRef
from station.records.log.log import RunLog
from station.records.recordings.calibrationfile import CalibrationFacts
from station.records.recordings.recording_file import quantised
from tests.records.example import PLACE, STARTED, example_calibration
from tests.records.same import same


def test_a_calibration_comes_back_as_it_was_stored(tmp_path: Path) -> None:
    stored = (
        example_calibration(),
        example_calibration(
            calibration_id="c2",
            calibrated_utc=STARTED + timedelta(days=1),
            place=replace(PLACE, role="current", input=3, filed_full_scale=8.0),
            means=Means.RESISTOR,
            nominal=8.0,
            drift_db=-0.75,
            accepted=False,
            simulated=True,
        ),
    )
    with RunLog.open(tmp_path) as log:
        for calibration in stored:
            log.store_calibration(calibration)
    with RunLog.open(tmp_path) as log:
        assert same(log.calibrations(), stored)
        assert log.chain_fault() is None


@pytest.mark.parametrize(
    "elsewhere",
    [
        replace(PLACE, station_name="line 2"),
        replace(PLACE, role="ambient"),
        replace(PLACE, device="PCI Audio"),
        replace(PLACE, input=2),
        replace(PLACE, filed_full_scale=62.0),
    ],
    ids=["station", "role", "device", "input", "full scale"],
)
def test_an_input_finds_its_own_calibrations_only(tmp_path: Path, elsewhere: object) -> None:
    with RunLog.open(tmp_path) as log:
        log.store_calibration(example_calibration())
        log.store_calibration(example_calibration(calibration_id="c2", place=elsewhere))
        log.store_calibration(example_calibration(calibration_id="c3", accepted=False))
        newest = log.newest_calibration(PLACE)
        accepted = log.newest_calibration(PLACE, accepted=True)
        assert newest is not None
        assert accepted is not None
        assert (newest.calibration_id, accepted.calibration_id) == ("c3", "c1")
        assert log.newest_calibration(replace(PLACE, input=8)) is None


def test_an_id_is_used_once(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store_calibration(example_calibration())
        with pytest.raises(ValueError, match="has a calibration c1"):
            log.store_calibration(example_calibration())
        assert len(log.calibrations()) == 1


@pytest.mark.parametrize(
    "change",
    [
        {"calibrated_by": ""},
        {"full_scale": 0.0},
        {"standard_uncertainty": -1.0},
        {"nominal": np.nan},
    ],
)
def test_a_calibration_that_makes_no_sense_is_refused_whole(
    tmp_path: Path, change: dict[str, object]
) -> None:
    with RunLog.open(tmp_path) as log:
        with pytest.raises(RecordsError, match="refused the entry"):
            log.store_calibration(example_calibration(**change))
        assert log.calibrations() == ()


def test_a_time_without_a_zone_is_a_mistake_of_the_caller(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log, pytest.raises(ValueError, match="no time zone"):
        log.store_calibration(example_calibration(calibrated_utc=datetime(2026, 1, 3)))


def test_the_uncertainty_of_a_level_is_that_of_the_full_scale() -> None:
    # 1 % of an amplitude is 8.686 dB (20 / ln 10) times 0.01 of its level.
    calibration = example_calibration(full_scale=50.0, standard_uncertainty=0.5)
    assert calibration.standard_uncertainty_db == pytest.approx(0.08686, abs=1e-5)
    assert used(calibration).standard_uncertainty_db == calibration.standard_uncertainty_db


def test_its_recording_is_kept_with_its_facts(tmp_path: Path) -> None:
    samples = quantised(np.random.default_rng(9).uniform(-1.0, 1.0, (2, 4800)))
    channels = (Channel("microphone", 63.0), Channel("voltage", 40.0))
    facts = CalibrationFacts("c1", STARTED, "line 1", Means.CALIBRATOR, 94.0, channels)
    with RunLog.open(tmp_path) as log:
        reference = log.store_calibration_recording(samples, 48000.0, facts)
        assert reference.name == "c1.flac"
        with pytest.raises(RecordsError, match="exists already"):
            log.store_calibration_recording(samples, 48000.0, facts)
        with pytest.raises(ValueError, match="cannot name a file"):
            log.store_calibration_recording(samples, 48000.0, replace(facts, calibration_id="../c"))
    path = tmp_path / "calibrations" / "c1.flac"
    with soundfile.SoundFile(path) as file:
        assert (file.title, file.samplerate) == ("c1", 48000)
        assert np.array_equal(file.read().T, samples)
        told = json.loads(file.comment)
    assert told == {
        "format": 1,
        "calibration_id": "c1",
        "recorded_utc": "2026-01-03T08:15:00.123456+00:00",
        "station": "line 1",
        "means": "calibrator",
        "nominal": 94.0,
        "channels": [
            {"role": "microphone", "unit": "Pa", "full_scale": 63.0},
            {"role": "voltage", "unit": "V", "full_scale": 40.0},
        ],
    }
    assert RecordingRef(path.name, reference.sha256) == reference
