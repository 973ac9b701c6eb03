from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

from station.analysis.arrays import FloatArray
from station.cycle.unit.report import Progress, Stage
from station.errors import (
    AudioError,
    AudioLostError,
    BusyError,
    FixtureError,
    RecordsError,
    StoppedError,
    UnknownSerialError,
)
from station.hardware.protocols.audio import Capture, MeterCallback
from station.judging.verdicts.verdict import Verdict
from station.records.recordings.recording_file import read_recording
from station.simulation.bench.fixture import SimulatedFixture
from tests.cycle.line import nobody_watches, run_unit, simulated_line

GOOD = "T2A00101"


class AudioThat:
    """An audio device that raises, or waits at a gate, instead of playing."""

    rate_hz = 96000.0

    def __init__(self, error: Exception | None = None, gate: threading.Event | None = None) -> None:
        self.error = error
        self.gate = gate
        self.playing = threading.Event()

    def play_and_record(
        self, output: FloatArray, *, on_meter: MeterCallback, stop: threading.Event
    ) -> Capture:
        self.playing.set()
        if self.gate is not None:
            assert self.gate.wait(timeout=30.0)
        if self.error is not None:
            raise self.error
        return Capture(np.zeros((4, output.size)))

    def silence(self) -> None:
        pass

    def close(self) -> None:
        pass


def test_a_good_unit_passes_and_its_run_is_stored_complete(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {}) as (cycle, log):
        report = run_unit(cycle, GOOD)
        assert report.final.judgement.verdict is Verdict.PASS
        (stored,) = log.runs_of(GOOD)
        assert stored.readings.numbers == report.final.readings.numbers
        assert stored.setup.limit_text.startswith("# Limits of the Tarn 2")
        assert stored.setup.station_name == "simulated"
        assert stored.recording is not None
        assert log.recording_unchanged(stored.recording)
        assert log.chain_fault() is None
        recording, facts = read_recording(log.path_of(stored.recording))
        assert facts.serial == GOOD
        assert recording.roles == ("microphone", "voltage", "current", "ambient")


def test_the_stages_are_told_in_order_and_storing_comes_before_the_answer(tmp_path: Path) -> None:
    told: list[Stage] = []

    def watch(progress: Progress) -> None:
        if not told or told[-1] is not progress.stage:
            told.append(progress.stage)

    with simulated_line(tmp_path, {}) as (cycle, _):
        cycle.test_unit(GOOD, on_progress=watch, stop=threading.Event())
    assert told == [Stage.SECURING, Stage.SWEEPING, Stage.COMPUTING, Stage.STORING]


def test_a_void_is_repeated_as_often_as_the_limit_file_allows(tmp_path: Path) -> None:
    faults = {GOOD: {"station_silent_microphone": 1.0}}
    with simulated_line(tmp_path, faults) as (cycle, log):
        report = run_unit(cycle, GOOD)
        assert [run.judgement.verdict for run in report.runs] == [Verdict.VOID] * 3
        assert [run.attempt for run in log.runs_of(GOOD)] == [1, 2, 3]
        count = cycle.shift_so_far()
        assert (count.passed, count.failed, count.void) == (0, 0, 1)


def test_a_lost_device_leaves_a_stored_void_and_is_not_tried_again(tmp_path: Path) -> None:
    lost = AudioThat(AudioLostError("The audio device stopped delivering.", "Check its cable."))
    with simulated_line(tmp_path, {}, audio=lost) as (cycle, log):
        report = run_unit(cycle, GOOD)
        assert len(report.runs) == 1
        assert report.final.judgement.verdict is Verdict.VOID
        assert report.final.judgement.next_step == "Check its cable."
        assert log.runs_of(GOOD)[0].recording is None


def test_a_missing_device_stores_nothing(tmp_path: Path) -> None:
    missing = AudioThat(AudioError("There is no audio device.", "Switch it on."))
    with simulated_line(tmp_path, {}, audio=missing) as (cycle, log):
        with pytest.raises(AudioError):
            run_unit(cycle, GOOD)
        assert log.runs_of(GOOD) == ()


def test_a_stopped_run_is_stored_as_void(tmp_path: Path) -> None:
    stop = threading.Event()
    stop.set()
    with simulated_line(tmp_path, {}) as (cycle, log):
        with pytest.raises(StoppedError):
            cycle.test_unit(GOOD, on_progress=nobody_watches, stop=stop)
        (run,) = log.runs_of(GOOD)
        assert run.judgement.verdict is Verdict.VOID


def test_two_tests_never_overlap(tmp_path: Path) -> None:
    audio = AudioThat(gate=threading.Event())
    with simulated_line(tmp_path, {}, audio=audio) as (cycle, _):
        first = threading.Thread(target=run_unit, args=(cycle, GOOD))
        first.start()
        assert audio.playing.wait(timeout=30.0)
        with pytest.raises(BusyError):
            run_unit(cycle, "T2A00102")
        assert audio.gate is not None
        audio.gate.set()
        first.join(timeout=30.0)
        run_unit(cycle, "T2A00102")


def test_an_open_lid_stops_the_test_before_anything_plays(tmp_path: Path) -> None:
    audio = AudioThat()
    fixture = SimulatedFixture(seed=7, faults_of={}, lid_open=True)
    with simulated_line(tmp_path, {}, audio=audio, fixture=fixture) as (cycle, log):
        with pytest.raises(FixtureError, match="lid is open"):
            run_unit(cycle, GOOD)
        assert not audio.playing.is_set()
        assert log.runs_of(GOOD) == ()


def test_the_fixture_is_released_even_when_the_test_breaks(tmp_path: Path) -> None:
    audio = AudioThat(AudioError("There is no audio device.", "Switch it on."))
    fixture = SimulatedFixture(seed=7, faults_of={})
    with (
        simulated_line(tmp_path, {}, audio=audio, fixture=fixture) as (cycle, _),
        pytest.raises(AudioError),
    ):
        run_unit(cycle, GOOD)
    assert fixture.serial is None


def test_an_unknown_serial_is_told_before_anything_moves(tmp_path: Path) -> None:
    with (
        simulated_line(tmp_path, {}) as (cycle, _),
        pytest.raises(UnknownSerialError, match="No limit file"),
    ):
        run_unit(cycle, "X99")


def test_a_result_that_cannot_be_stored_is_never_told(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {}) as (cycle, log):
        folder = tmp_path / "recordings"
        folder.rmdir()
        folder.write_text("no folder")
        with pytest.raises(RecordsError):
            run_unit(cycle, GOOD)
        assert log.runs_of(GOOD) == ()
