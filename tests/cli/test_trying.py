"""`station limits try` on a log: before, after, who flips and why."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from station.analysis.measure import Measured
from station.analysis.readings import Curve, Number, Readings
from station.judging.files.limit_file import limit_file, limit_file_from_text
from station.judging.files.planning import plan_of
from station.judging.verdicts.judge import judge
from station.judging.verdicts.judged import judged_recording
from station.records.kept.run import Setup
from station.records.log.log import RunLog
from station.records.recordings.recording_file import read_recording
from tests.cycle.line import LIMITS as LIMITS_FOLDER
from tests.judging.example import LIMITS
from tests.quality.biglog import fill_log
from tests.quality.manyunits import RESPONSE_HZ
from tests.records.example import example_run

FILE = limit_file_from_text(LIMITS, "x.toml")
STEP_DB = 0.1


def unit_at(number: int) -> Readings:
    """Return a unit whose sensitivity rises by a tenth of a dB from unit to unit, from 84.55."""
    return Readings(
        {
            "sensitivity": Number(84.55 + STEP_DB * number, "dB"),
            "polarity.woofer": Number(0.99, "ratio"),
        },
        {"response": Curve(RESPONSE_HZ, np.full(RESPONSE_HZ.size, 86.0), "dB")},
    )


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    """A log of 30 units: by the limits of 85 and 87 dB, 5 too quiet, 20 good, 5 too loud."""
    setup = Setup("x.toml", LIMITS, "bench", "", {})
    fill_log(
        tmp_path / "logs",
        (
            replace(
                example_run(), run_id=f"r{number}", serial=f"T2A{number:05d}", setup=setup,
                readings=unit_at(number), judgement=judge(Measured(unit_at(number), ()), FILE),
            )
            for number in range(30)
        ),
    )  # fmt: skip
    return tmp_path / "logs"


@pytest.fixture
def draft(tmp_path: Path) -> Path:
    """Limits moved up by half a dB."""
    path = tmp_path / "draft.toml"
    path.write_text(LIMITS.replace("85.0\nupper = 87.0", "85.5\nupper = 87.5"))
    return path


def test_who_flips_and_what_it_does_to_the_yield(station: Any, logs: Path, draft: Path) -> None:
    shown = station("limits", "try", draft, "--logs", logs, "--json", "--worst", "3")
    assert shown.code == 0
    (found,) = shown.runs()
    assert (found["before"]["pass"], found["before"]["fail"]) == (20, 10)
    assert (found["after"]["pass"], found["after"]["fail"]) == (20, 10)
    assert found["after"]["first_causes"] == {"sensitivity": 10}
    assert found["newly_failing"]["count"] == found["newly_passing"]["count"] == 5
    worst = [run["serial"] for run in found["newly_failing"]["runs"]]
    assert worst == ["T2A00005", "T2A00006", "T2A00007"]  # 85.05 dB is the furthest below 85.5
    assert found["newly_failing"]["runs"][0]["severity"] == pytest.approx(0.45)
    assert found["before"]["yield_ratio"] == pytest.approx(20 / 30)
    words = station("limits", "try", draft, "--logs", logs)
    assert "5 would fail and did not, 5 would pass and did not" in words.out
    assert "T2A00005" in words.out


def test_a_page_shows_the_curves_over_each_band(station: Any, logs: Path, tmp_path: Path) -> None:
    draft, page = tmp_path / "tight.toml", tmp_path / "tried.html"
    draft.write_text(LIMITS.replace("[1000.0, 84.0, 88.0]", "[1000.0, 84.0, 85.5]"))
    shown = station("limits", "try", draft, "--logs", logs, "--page", page, "--json")
    assert shown.code == 0
    (found,) = shown.runs()
    text = page.read_text()
    assert text.count("<svg") == 1  # one band
    assert text.count("<polyline") >= 3 + 5  # median, both ends of the spread, the five worst
    assert "Units that fail it: 30; furthest T2A0000" in text
    assert f"{found['after']['fail']} fail" in text
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")  # asks nothing outside


def test_a_selection_is_all_that_is_asked(station: Any, logs: Path, draft: Path) -> None:
    some = ("--serials", "T2A0000[0-9]", "--json")
    (found,) = station("limits", "try", draft, "--logs", logs, *some).runs()
    assert found["units"] == 10
    before = station("limits", "try", draft, "--logs", logs, "--until", "2026-01-03")
    assert before.code == 2
    assert "no such run" in before.err
    (since,) = station(
        "limits", "try", draft, "--logs", logs, "--since", "2026-01-03", "--json"
    ).runs()
    assert since["units"] == 30


def test_two_files_are_compared_with_each_other(station: Any, logs: Path, draft: Path) -> None:
    (same,) = station("limits", "try", draft, "--against", draft, "--logs", logs, "--json").runs()
    assert same["newly_failing"]["count"] == same["newly_passing"]["count"] == 0
    assert same["before"] == same["after"]


def test_what_stored_readings_cannot_tell_is_said(station: Any, logs: Path, tmp_path: Path) -> None:
    text = LIMITS.replace("to_hz = 5000.0", "to_hz = 4000.0").replace(
        "[readings.sensitivity]",
        "[readings.impedance]\nfrom_hz = 100.0\nto_hz = 10000.0\nbands_per_octave = 3\n"
        "gate_s = 0.2\nminimum_from_hz = 100.0\nminimum_to_hz = 10000.0\n\n[readings.sensitivity]",
    )
    path = tmp_path / "other.toml"
    path.write_text(text + '\n[[numbers]]\nreading = "impedance_min"\nlower = 3.0\nscale = 1.0\n')
    shown = station("limits", "try", path, "--logs", logs)
    assert "read by another [readings]" in shown.out
    assert "30 runs hold no impedance_min" in shown.out


@pytest.mark.parametrize(
    "wrong",
    [("--serials", "["), ("--out", "somewhere"), ("--against", "x", "--from-recordings")],
)
def test_wrong_use_is_refused_in_a_sentence(
    station: Any, logs: Path, draft: Path, wrong: tuple[str, ...]
) -> None:
    shown = station("limits", "try", draft, "--logs", logs, *wrong)
    assert (shown.code, shown.out) == (2, "")
    assert shown.err.count("\n") == 1


def test_recordings_are_read_anew_and_a_stopped_work_goes_on(station: Any, tmp_path: Path) -> None:
    logs, out = tmp_path / "logs", tmp_path / "tried"
    line = ("--simulate", "--limits-folder", LIMITS_FOLDER, "--logs", logs)
    for serial, fault in (("T2A00601", ()), ("T2A00602", ("--fault", "dead_tweeter"))):
        station("test", serial, *fault, *line)
    tarn = LIMITS_FOLDER / "tarn2.toml"
    limits, _ = limit_file(tarn)
    draft = tarn  # judged by the same file, all must come out as it was
    arguments = ("--simulate", "--logs", logs, "--from-recordings", "--out", out, "--json")
    (found,) = station("limits", "try", draft, *arguments).runs()
    assert (found["after"]["pass"], found["after"]["fail"]) == (1, 1)
    assert found["newly_failing"]["count"] == found["newly_passing"]["count"] == 0
    (still,) = found["still_failing"]["runs"]
    with RunLog.open(logs / "simulated") as log:
        failed = log.runs_of("T2A00602")[-1]
        recording, _ = read_recording(log.path_of(failed.recording))  # type: ignore[arg-type]
        log.path_of(failed.recording).unlink()  # type: ignore[arg-type]
    causes = judged_recording(recording, plan_of(limits), limits).judgement.causes
    assert (still["after_cause"], still["severity"]) == (causes[0].reading, causes[0].severity)
    # Its recording is gone, so that only what was kept can tell of it.
    with (out / "tried.jsonl").open("a") as file:
        file.write('["torn')
    (again,) = station("limits", "try", draft, *arguments).runs()
    assert again == found
    (lost,) = station("limits", "try", draft, *arguments[:-3], "--json").runs()
    assert lost["newly_void"]["count"] == 1
    (out / "tried.jsonl").write_text('{"format": 1, "draft_sha256": "", "versions": {}}\n')
    refused = station("limits", "try", draft, *arguments)
    assert refused.code == 2
    assert "another draft" in refused.err
