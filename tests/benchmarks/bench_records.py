"""From the last sample to a durable run, against a bare synchronized write of the same bytes."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median

import numpy as np

from station.analysis.readings import Curve, Number, Readings
from station.analysis.recording import Channel, Recording
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.judging.verdicts.verdict import Judgement, Margin, Verdict
from station.records.kept.run import Run, Setup
from station.records.log.log import RunLog
from station.records.recordings.recording_file import flac_of, quantised
from station.records.recordings.sidecar import RecordingFacts
from tests.records.example import STARTED

ROUNDS = 40
RUNS_FOR_SIZE = 500
SWEEP = Sweep(15.0, 19.0, 44000.0, 2.0, 2.83, 0.2, 0.3, 96000.0)
CHANNELS = (
    Channel("microphone", 63.2),
    Channel("voltage", 40.0),
    Channel("current", 8.0),
    Channel("ambient", 2.0),
)


def raw_recording() -> Recording:
    """Return four channels of sweep and noise, 2.5 s at 96 kHz, as they come from a device."""
    noise = np.random.default_rng(1).normal(0.0, 1e-4, (4, SWEEP.n_samples))
    gains = np.array([[0.2], [0.9], [0.4], [0.02]]) / 4.0
    return Recording(gains * sweep_voltage(SWEEP) + noise, CHANNELS, SWEEP, 0.5)


def full_run(number: int) -> Run:
    """Return a pass with 30 numbers and 14 curves, as many as a full limit file asks for."""
    random = np.random.default_rng(number)
    twelfths_hz = np.geomspace(40.0, 40000.0, 120)
    thirds_hz = np.geomspace(40.0, 10000.0, 25)
    curves = {
        f"fine{n}": Curve(twelfths_hz, random.normal(80.0, 1.0, 120), "dB") for n in range(4)
    } | {f"coarse{n}": Curve(thirds_hz, random.normal(-60.0, 5.0, 25), "dB") for n in range(10)}
    numbers = {f"number{n}": Number(float(random.normal()), "dB") for n in range(30)}
    margins = {name: Margin(float(random.normal()), "dB", 1000.0) for name in [*numbers, *curves]}
    return Run(
        run_id=f"20260103T081500-{number}",
        serial=f"T2A{number:05d}",
        model="Tarn 2",
        revision="A",
        attempt=1,
        simulated=True,
        started_utc=STARTED,
        monotonic_s=float(number),
        readings=Readings(numbers, curves, {}),
        judgement=Judgement(Verdict.PASS, (), "Next unit.", margins),
        setup=Setup("tarn2.toml", "#" * 6000, "station.toml", "#" * 800, {"station": "0.1.0"}),
        recording=None,
    )


def spent_s(act: Callable[[], object]) -> float:
    """Return how long an action took."""
    start_s = time.perf_counter()
    act()
    return time.perf_counter() - start_s


def synchronized_write(path: Path, contents: bytes) -> None:
    """Write and synchronize a file, nothing else."""
    with path.open("wb") as file:
        file.write(contents)
        file.flush()
        os.fsync(file.fileno())


def test_last_sample_to_durable_run(tmp_path: Path) -> None:
    recording = raw_recording()
    with RunLog.open(tmp_path / "logs") as log:
        times_s: dict[str, list[float]] = {}
        for number in range(ROUNDS):
            facts = RecordingFacts(f"T2A{number:05d}", "Tarn 2", "A", f"r{number}", STARTED, "one")
            contents = flac_of(recording, facts)
            run = full_run(number)

            def everything(facts: RecordingFacts = facts, run: Run = run) -> None:
                kept = replace(recording, samples=quantised(recording.samples))
                ref = log.store_recording(kept, facts)
                log.store(replace(run, run_id=f"all {run.run_id}", recording=ref))

            other = replace(facts, run_id=f"alone{number}")
            for name, act in {
                "bare write": lambda c=contents, n=number: synchronized_write(tmp_path / f"{n}", c),
                "bring to 24 bits": lambda: quantised(recording.samples),
                "encode": lambda f=facts: flac_of(recording, f),
                "store_recording": lambda f=other: log.store_recording(recording, f),
                "store": lambda r=run: log.store(r),
                "last sample to durable": everything,
            }.items():
                times_s.setdefault(name, []).append(spent_s(act))
    bare_s = median(times_s["bare write"])
    print(f"\n{'step':<24}{'median ms':>10}{'worst ms':>10}{'x bare write':>14}")
    for name, taken_s in times_s.items():
        middle_s = median(taken_s)
        print(
            f"{name:<24}{1e3 * middle_s:>10.2f}{1e3 * max(taken_s):>10.2f}"
            f"{middle_s / bare_s:>14.2f}"
        )
    print(f"recording {len(contents)} bytes")


def test_size_of_a_run_and_speed_of_the_chain_check(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    with RunLog.open(tmp_path) as log:
        log.store(full_run(0))
    first_bytes = path.stat().st_size
    with RunLog.open(tmp_path) as log:
        for number in range(1, RUNS_FOR_SIZE + 1):
            log.store(full_run(number))
        check_s = spent_s(lambda: print(f"\nchain fault: {log.chain_fault()}"))
    added_bytes = (path.stat().st_size - first_bytes) / RUNS_FOR_SIZE
    print(f"database {added_bytes:.0f} bytes per run of 30 numbers, 44 margins and 14 curves")
    print(f"chain check {1e3 * check_s / RUNS_FOR_SIZE:.3f} ms per run")
