"""A run, a recording and its facts that the tests vary; all values are invented."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from station.analysis.readings import Curve, Number, Readings
from station.analysis.recording import Channel, Recording
from station.analysis.signals.sweep import Sweep
from station.judging.verdicts.verdict import Cause, Conformity, Decision, Judgement, Margin, Verdict
from station.records.chains.upkeep import UpkeepEntry, UpkeepKind
from station.records.kept.calibration import Calibration, Means, Place
from station.records.kept.gauge import GaugeEntry, GaugePlan, GaugeStep
from station.records.kept.release import Release
from station.records.kept.roleact import Act, RoleAct
from station.records.kept.run import Operator, RecordingRef, Run, Setup, UsedCalibration
from station.records.kept.service import ImportedRecord, LimitsFrom, Service, Step, StepKind
from station.records.recordings.sidecar import RecordingFacts

SWEEP = Sweep(
    start_hz=100.0,
    faded_in_hz=150.0,
    stop_hz=20000.0,
    duration_s=0.05,
    level_v=2.83,
    lead_in_s=0.01,
    tail_s=0.01,
    rate_hz=48000.0,
)
DECISION = Decision(
    "guarded",
    2.0,
    1.0,
    {
        "response": Conformity(0.05, 0.1, 0.0625, "dB", 1234.5, (84.0, math.inf)),
        "sensitivity": Conformity(0.03, 0.06, 1.0, "dB", None, (85.0, 88.0)),
    },
)
CHANNELS = (
    Channel("microphone", 63.245553),
    Channel("voltage", 40.0),
    Channel("current", 8.0),
    Channel("ambient", 2.0),
)
STARTED = datetime(2026, 1, 3, 8, 15, 0, 123456, tzinfo=UTC)
FACTS = RecordingFacts("T2A00123", "Tarn 2", "A", "20260103T081500-7", STARTED, "line 1")
SETUP = Setup(
    "tarn2.toml",
    "format = 1 # Ω\n",
    "station.toml",
    "format = 1\n",
    {"station": "0.1.0"},
    {"microphone": UsedCalibration("c1", STARTED, 63.245553203367585, 0.1), "current": None},
    '{"format":1,"curve":"response"}\n',
)


def example_recording(**changes: Any) -> Recording:
    """Return four channels of noise that use every bit and reach both ends of the scale."""
    codes = np.random.default_rng(3).integers(-(2**23), 2**23, (4, SWEEP.n_samples))
    codes[:, :3] = (-(2**23), 2**23 - 1, 1)
    recording = Recording(codes / 2.0**23, CHANNELS, SWEEP, 0.5)
    return replace(recording, **changes)


def example_run(**changes: Any) -> Run:
    """Return a fail with two causes, three curves on two grids, and a reading that is missing."""
    coarse_hz = np.geomspace(20.0, 40000.0, 34)
    fine_hz = np.geomspace(100.0, 10000.0, 81)
    level_db = 90.0 + np.random.default_rng(5).normal(0.0, 1.0, 81)
    readings = Readings(
        {
            "sensitivity": Number(87.123456789012345, "dB"),
            "fs": Number(math.nan, "Hz"),
            "impedance_min": Number(math.inf, "Ω"),
        },
        {
            "response": Curve(fine_hz, level_db, "dB"),
            "thd": Curve(coarse_hz, np.where(coarse_hz > 9000.0, np.nan, -60.0), "dB"),
            "impedance": Curve(coarse_hz, np.linspace(8.0, 30.0, 34), "Ω"),
        },
        {"fs": ("No resonance was found.", "Check the current channel.")},
    )
    judgement = Judgement(
        Verdict.FAIL,
        (
            Cause("response", "below", -2.25, "dB", 1234.5, 2.25, "Too quiet at 1.2 kHz.", "Swap."),
            Cause("fs", "missing", math.nan, "Hz", None, math.nan, "No resonance was found."),
        ),
        "Put the unit on the repair shelf.",
        {"response": Margin(-2.25, "dB", 1234.5), "fs": Margin(math.nan, "Hz", None)},
        decision=DECISION,
    )
    run = Run(
        run_id="20260103T081500-7",
        serial="T2A00123",
        model="Tarn 2",
        revision="A",
        attempt=1,
        simulated=True,
        started_utc=STARTED,
        monotonic_s=1234.5678901234567,
        readings=readings,
        judgement=judgement,
        setup=SETUP,
        recording=None,
        temperature_c=21.25,
        operator=Operator("J. Ferris", "OP-0417"),
    )
    return replace(run, **changes)


PLACE = Place("line 1", "USB Audio", 1, "microphone", 63.0)


def example_calibration(**changes: Any) -> Calibration:
    """Return an accepted calibration of a microphone that has become a little less sensitive."""
    calibration = Calibration(
        calibration_id="c1",
        calibrated_utc=STARTED,
        calibrated_by="N. Ørsted",
        place=PLACE,
        means=Means.CALIBRATOR,
        nominal=94.0,
        full_scale_before=63.0,
        full_scale=63.245553203367585,
        standard_uncertainty=0.73,
        drift_db=None,
        drift_limit_db=0.5,
        temperature_c=21.5,
        accepted=True,
        happened="It is 0.03 dB off the station file.",
        remedy="Nothing is to be done.",
        simulated=False,
        station_text="format = 1\n",
        versions={"station": "0.1.0"},
        recording=RecordingRef("c1.flac", "12" * 32),
    )
    return replace(calibration, **changes)


def example_upkeep(**changes: Any) -> UpkeepEntry:
    """Return an entry about a recording that was let go."""
    entry = UpkeepEntry(
        STARTED, UpkeepKind.LET_GO, "r0.flac", "34" * 32, "Passes are kept for 30 days."
    )
    return replace(entry, **changes)


def example_service(**changes: Any) -> Service:
    """Return a unit's stay in service."""
    service = Service(
        service_id="s1",
        opened_utc=STARTED,
        opened_by="T. Beck",
        simulated=False,
        station_name="bench 2",
        serial="T2A00123",
        model="Tarn 2",
        revision="A",
        complaint="Dull since it fell.",
        limits_from=LimitsFrom.RUN,
        limit_name="tarn2.toml",
        limit_text="format = 1 # Ω\n",
        as_built="20260103T081500-7",
    )
    return replace(service, **changes)


def example_step(**changes: Any) -> Step:
    """Return the replacement of a part."""
    step = Step(
        step_id="t1",
        service_id="s1",
        made_utc=STARTED,
        made_by="T. Beck",
        kind=StepKind.PART,
        part="tweeter",
        batch="lot 7",
        words="Coil open.",
    )
    return replace(step, **changes)


def example_imported(**changes: Any) -> ImportedRecord:
    """Return a record from before the log."""
    record = ImportedRecord(
        record_id="i1",
        imported_utc=STARTED,
        imported_by="T. Beck",
        simulated=False,
        serial="T2A00123",
        model="Tarn 2",
        revision="A",
        measured_on="1998",
        origin="Paper file 12, typed in.",
        file_name="T2A00123.csv",
        contents="name,hz,value,unit\nfs,,61.5,Hz\n",
    )
    return replace(record, **changes)


def example_release(**changes: Any) -> Release:
    """Return a release of a second revision; its texts are not what a real one would have."""
    release = Release(
        release_id="x1",
        taken_in_utc=STARTED,
        model="Tarn 2",
        revision="B",
        serial_pattern="T2A[0-9]{5}",
        holds_from="T2A01500",
        released_utc=STARTED,
        released_by="I. Thwaite",
        public_key="ab" * 32,
        limit_name="tarn2-b.toml",
        limit_text="format = 1 # revision B\n",
        release_text='{"format": 1}\n',
    )
    return replace(release, **changes)


def example_role_act(**changes: Any) -> RoleAct:
    """Return an enrolment of an operator by an engineer."""
    act = RoleAct(
        act_id="a1",
        acted_utc=STARTED,
        person="I. Thwaite",
        role="engineer",
        act=Act.ENROLLED,
        subject="J. Ørsted",
        details={"role": "operator", "badge": "OP-0417"},
    )
    return replace(act, **changes)


def with_verdict(run: Run, verdict: Verdict) -> Run:
    """Return the run with another verdict; a pass has no causes."""
    causes = () if verdict is Verdict.PASS else run.judgement.causes
    return replace(run, judgement=replace(run.judgement, verdict=verdict, causes=causes))


def example_gauge_plan(**changes: Any) -> GaugePlan:
    """Return a study of one unit by two operators."""
    plan = GaugePlan(
        study_id="G1",
        planned_utc=STARTED,
        planned_by="Q. Lind",
        simulated=False,
        title="After the new fixture",
        model="Tarn 2",
        serials=("T2A00123",),
        operators=("A. Beck", "N. Ørsted"),
        repeats=1,
        steps=(
            GaugeStep(1, "T2A00123", "N. Ørsted", 1),
            GaugeStep(2, "T2A00123", "A. Beck", 1),
        ),
    )
    return replace(plan, **changes)


def example_gauge_entry(**changes: Any) -> GaugeEntry:
    """Return the first step of that study, carried out."""
    return replace(GaugeEntry("G1", 1, "20260103T081500-7", STARTED), **changes)
