from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from station.analysis.signals.sweep import sweep_voltage
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import sweep_of
from station.records.log.log import RunLog
from tests.cycle.line import LIMITS

PASS, FAIL, REFUSED, VOID, FAULT = 0, 1, 2, 3, 4
TARN = str(LIMITS / "tarn2.toml")


def simulated(logs: Path) -> tuple[str | Path, ...]:
    return "--simulate", "--limits-folder", LIMITS, "--logs", logs


def test_the_demo_tests_all_models_and_stores_every_run(station: Any, tmp_path: Path) -> None:
    shown = station("demo", "--limits-folder", LIMITS, "--logs", tmp_path)
    assert shown.code == PASS
    for word in ("Tarn 2", "Fell 60", "Scree 12", "PASS", "FAIL", "VOID", "station.db"):
        assert word in shown.out
    with RunLog.open(tmp_path / "simulated") as log:
        # twelve units; the void one was repeated twice, a weak panel once, as it might be charging
        assert log.run_count() == 12 + 2 + 1
        assert log.chain_fault() is None


def test_a_verdict_is_the_exit_code_and_json_tells_all(station: Any, tmp_path: Path) -> None:
    good = station("test", "T2A00601", "--json", *simulated(tmp_path))
    assert good.code == PASS
    (run,) = good.runs()
    assert {"serial", "model", "revision", "verdict", "causes", "readings", "next_step"} <= set(run)
    assert run["verdict"] == "pass"
    assert run["readings"]["fs"]["unit"] == "Hz"
    response = run["readings"]["response"]
    assert len(response["hz"]) == len(response["values"]) > 100
    bad = station("test", "T2A00602", "--json", "--fault", "dead_tweeter", *simulated(tmp_path))
    assert bad.code == FAIL
    cause = bad.runs()[0]["causes"][0]
    assert {"reading", "margin", "unit", "at_hz", "advice"} <= set(cause)
    void = station(
        "test", "T2A00603", "--json", "--fault", "station_nan_samples=5", *simulated(tmp_path)
    )
    assert void.code == VOID
    assert [run["attempt"] for run in void.runs()] == [1, 2, 3]
    assert void.runs()[0]["causes"][0]["margin"] is None


def test_the_same_serial_is_always_the_same_unit(station: Any, tmp_path: Path) -> None:
    first = station("test", "F6A00601", "--json", *simulated(tmp_path / "a")).runs()[0]
    second = station("test", "F6A00601", "--json", *simulated(tmp_path / "b")).runs()[0]
    assert first["readings"] == second["readings"]


def test_a_recording_judged_again_gives_the_stored_readings_bit_for_bit(
    station: Any, tmp_path: Path
) -> None:
    stored = station("test", "T2A00604", "--json", *simulated(tmp_path)).runs()[0]
    folder = tmp_path / "simulated" / "recordings"
    again = station("judge", folder, "--limits", TARN, "--json")
    assert again.code == PASS
    (judged,) = again.runs()
    assert judged["serial"] == "T2A00604"
    assert judged["readings"] == stored["readings"]


def test_history_shows_every_run_of_a_unit(station: Any, tmp_path: Path) -> None:
    station("test", "T2A00605", "--fault", "dead_woofer", *simulated(tmp_path))
    station("test", "T2A00605", *simulated(tmp_path))
    shown = station("history", "T2A00605", "--simulate", "--logs", tmp_path)
    assert shown.code == PASS
    assert shown.out.index("FAIL") < shown.out.index("PASS")
    listed = station("history", "T2A00605", "--simulate", "--json", "--logs", tmp_path).runs()
    assert [run["verdict"] for run in listed] == ["fail", "pass"]
    nothing = station("history", "T2A99999", "--simulate", "--logs", tmp_path)
    assert nothing.code == REFUSED


def test_a_pattern_is_learned_only_from_units_enough_and_never_over_another(
    station: Any, tmp_path: Path
) -> None:
    station("test", "T2A00611", *simulated(tmp_path))
    out = tmp_path / "pattern.json"
    where = ("--simulate", "--logs", tmp_path)
    few = station("limits", "pattern", TARN, out, *where)
    assert few.code == REFUSED
    assert "too few" in few.err
    assert not out.exists()
    out.write_text("kept")
    assert "exists" in station("limits", "pattern", TARN, out, *where).err
    assert out.read_text() == "kept"


def test_the_stimulus_file_holds_the_exact_sweep(station: Any, tmp_path: Path) -> None:
    out = tmp_path / "sweep.wav"
    assert station("stimulus", "--limits", TARN, "--full-scale-v", "8", out).code == PASS
    samples, rate_hz = soundfile.read(out)
    sweep = sweep_of(limit_file(Path(TARN))[0])
    assert rate_hz == sweep.rate_hz
    assert np.max(np.abs(samples * 8.0 - sweep_voltage(sweep))) <= 8.0 * 2.0**-23
    assert "level_v = 2.83" in (tmp_path / "sweep.recorded.toml").read_text()
    too_small = station("stimulus", "--limits", TARN, "--full-scale-v", "2", out)
    assert too_small.code == REFUSED
    assert "does not fit" in too_small.err


def test_a_limit_file_with_faults_is_refused_with_every_line(station: Any, tmp_path: Path) -> None:
    text = Path(TARN).read_text()
    broken = (
        text.replace("duration_s = 1.0", 'duration_s = "long"')
        .replace("tail_s = 0.35", "")
        .replace("void = 2", "void = -1")
        .replace("bands_per_octave = 12", "bands_per_octave = 99", 1)
        .replace('reading = "fs"', 'reading = "f_s"', 1)
        .replace("[[numbers]]", "[[numbers]]\nextra = 1", 1)
    )
    path = tmp_path / "broken.toml"
    path.write_text(broken)
    shown = station("limits", "check", TARN, path)
    assert shown.code == REFUSED
    assert "good: Tarn 2" in shown.out
    lines = [line for line in shown.err.splitlines() if line.startswith(f"{path}:")]
    assert len(lines) >= 6
    for line in lines:
        assert line.removeprefix(f"{path}:").split(":")[0].isdigit()
    shutil.copy(path, tmp_path / "folder.toml")
    refused = station("test", "T2A00606", "--simulate", "--limits-folder", tmp_path)
    assert refused.code == REFUSED


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("test", "X1", "--simulate"), REFUSED, "No limit file"),
        (("test", "T2A00607", "--simulate", "--fault", "gremlin"), REFUSED, "no fault called"),
        (("test", "T2A00607", "--simulate", "--fault", "low_bias"), REFUSED, "cannot have"),
        (("test", "T2A00607", "--simulate", "--fault", "coil_rub=x"), REFUSED, "no number"),
        (("test", "T2A00607", "--fault", "coil_rub"), REFUSED, "simulated units only"),
        (("test", "T2A00607", "--station-file", "none.toml"), REFUSED, "no station file"),
        (("judge", "none.flac", "--limits", TARN), REFUSED, "none.flac"),
        (("judge", "x.flac", "--limits", "none.toml"), REFUSED, "There is no file none.toml"),
        (("stimulus", "x.mp3", "--limits", TARN), REFUSED, "does not end in .wav"),
        (("history", "T2A00607"), REFUSED, "There is no log"),
        (("sing",), REFUSED, "No such command"),
        (("test",), REFUSED, "Missing argument"),
    ],
)
def test_bad_input_gets_one_clear_sentence(
    station: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...], code: int, words: str,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    (tmp_path / "limits").symlink_to(LIMITS)
    shown = station(*arguments)
    assert shown.code == code
    assert words in shown.err
    assert not (tmp_path / "logs" / "recordings").exists()


def test_a_corrupt_recording_does_not_stop_the_others(station: Any, tmp_path: Path) -> None:
    station("test", "T2A00608", *simulated(tmp_path))
    folder = tmp_path / "simulated" / "recordings"
    (good,) = folder.iterdir()
    (folder / "cut.flac").write_bytes(good.read_bytes()[:20000])
    (folder / "noise.wav").write_bytes(b"no audio at all")
    shown = station("judge", folder, "--limits", TARN, "--json")
    assert shown.code == REFUSED
    assert len(shown.runs()) == 1
    assert "cut.flac" in shown.err
    assert "noise.wav" in shown.err


def test_a_log_that_cannot_be_written_is_a_station_fault(station: Any, tmp_path: Path) -> None:
    blocked = tmp_path / "simulated"
    blocked.write_text("a file where the folder should be")
    shown = station("test", "T2A00609", *simulated(tmp_path))
    assert shown.code == FAULT
    assert str(blocked) in shown.err


def test_a_full_disk_stores_nothing_half_and_says_so(tmp_path: Path) -> None:
    # A file may grow to 200 KiB only: the recording of about 1 MB does not fit.
    command = f'ulimit -f 200; exec "{sys.executable}" -m station test T2A00610'
    arguments = " ".join(f"'{argument}'" for argument in simulated(tmp_path))
    done = subprocess.run(
        ["bash", "-c", f"{command} {arguments}"], capture_output=True, text=True, check=False
    )
    assert done.returncode == FAULT
    assert "Traceback" not in done.stdout + done.stderr
    assert "PASS" not in done.stdout
    assert list((tmp_path / "simulated" / "recordings").iterdir()) == []
    with RunLog.open(tmp_path / "simulated") as log:
        assert log.run_count() == 0


def test_the_doctor_says_what_is_missing_and_how_to_mend_it(
    station: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shown = station("doctor", "--limits-folder", LIMITS)
    assert shown.code == FAULT  # no station file here
    for words in ("MEND", "station file", "Copy", "Tarn 2 A", "numpy", "GB free"):
        assert words in shown.out


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from station.cli.running import exit_code_of\n"
        "exit_code_of(['--help'])\n"
        "heavy = {'numpy', 'scipy', 'textual', 'pydantic', 'soundfile', 'sqlite3'}\n"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or None)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "Test finished loudspeakers" in done.stdout


@pytest.mark.parametrize(
    "layer",
    ["errors", "tomlfiles.loading", "analysis.measure", "judging.verdicts.judge",
     "records.log.log", "cycle.unit.unitcycle"],
)  # fmt: skip
def test_no_lower_layer_loads_the_screens(layer: str) -> None:
    code = f"import sys, station.{layer}\nsys.exit('textual' in sys.modules)\n"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_how_many_threads_compute_is_said_before_numpy_is_loaded() -> None:
    code = "import sys, station.__main__\nsys.exit('numpy' in sys.modules)\n"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
