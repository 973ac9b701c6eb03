"""Feed changed files to the commands: `python -m tests.studies.fuzzed [FILES [RECORDINGS]]`.

Limit and station files, recordings and sidecars are changed at random and given to the real
commands. Each must be refused with a sentence or be used: no traceback, no hang, and a unit whose
tweeter is dead never passes, whatever was changed.
"""

from __future__ import annotations

import contextlib
import io
import random
import resource
import shutil
import signal
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType

import numpy as np
import soundfile

from station.cli.running import exit_code_of
from station.errors import StationError
from station.hardware.files.stationfile import station_file
from station.records.recordings.recording_file import read_recording
from station.simulation.bench.stationfile import simulated_station
from tests.cycle.line import LIMITS
from tests.studies.mutations import changed_bytes, changed_text

SEED = 20261125
FILES, RECORDINGS = 10_000, 2_000
PASS, FAIL, REFUSED, VOID = 0, 1, 2, 3
TRIED_EVERY = 40  # of the station files that are accepted: a test is simulated with them
HANG_S = 30
MOST_MEMORY_BYTES = 6_000_000_000


class HangError(Exception):
    """A command took too long."""


@dataclass(slots=True)
class Found:
    """What became of all files; `bad` has one line for each that was not treated well."""

    counts: Counter[str] = field(default_factory=Counter)
    bad: list[str] = field(default_factory=list)


def command(*arguments: str | Path) -> tuple[int, str]:
    """Run a command as the terminal does; return its exit code and all it said."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = exit_code_of([str(argument) for argument in arguments])
    return code, said.getvalue()


def judged(found: Found, kind: str, name: str, allowed: set[int], *arguments: str | Path) -> int:
    """Run a command and note what is wrong with how it ended."""
    signal.alarm(HANG_S)
    try:
        code, said = command(*arguments)
    except HangError:
        found.bad.append(f"{kind} {name}: hangs in {arguments[0]}")
        return REFUSED
    finally:
        signal.alarm(0)
    if code not in allowed or "Traceback" in said or "Station fault" in said:
        found.bad.append(f"{kind} {name}: {arguments[0]} left with {code}: {said[-300:]!r}")
    elif code == REFUSED and not said.strip():
        found.bad.append(f"{kind} {name}: {arguments[0]} said nothing")
    return code


def dead_tweeter(folder: Path) -> Path:
    """Return the recording of a unit whose tweeter is dead, which fails by the demo's limits."""
    logs = folder / "logs"
    code, said = command(
        "test", "T2A00001", "--simulate", "--fault", "dead_tweeter", "--logs", logs,
        "--limits-folder", LIMITS,
    )  # fmt: skip
    assert code == FAIL, said
    (path,) = (logs / "simulated" / "recordings").iterdir()
    return path


def with_sidecar(flac: Path, folder: Path) -> Path:
    """Return the recording as WAV with its facts in a file beside it."""
    folder.mkdir()
    samples, rate_hz = soundfile.read(flac, dtype="int32", always_2d=True)
    wav = folder / "unit.wav"
    soundfile.write(wav, samples, rate_hz, subtype="PCM_24")
    recording, facts = read_recording(flac)
    sweep = recording.sweep
    lines = [
        "format = 1", f'serial = "{facts.serial}"', f"distance_m = {recording.distance_m}",
        "device_flags = []", "", "[sweep]",
        *(f"{name} = {getattr(sweep, name)!r}" for name in (
            "start_hz", "faded_in_hz", "stop_hz", "duration_s", "level_v", "lead_in_s", "tail_s",
            "rate_hz")),
    ]  # fmt: skip
    units = {"microphone": "Pa", "ambient": "Pa", "rear": "Pa", "voltage": "V", "current": "A"}
    for number, channel in enumerate(recording.channels, start=1):
        lines += [
            "", "[[channels]]", f"channel = {number}", f'role = "{channel.role}"',
            f'unit = "{units[channel.role]}"', f"full_scale = {channel.full_scale!r}",
        ]  # fmt: skip
    wav.with_suffix(".toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return wav


def fuzz_limits(found: Found, folder: Path, recording: Path, count: int, seed: int) -> None:
    """Change limit files; those that are accepted judge the dead tweeter."""
    random_ = random.Random(seed)
    work = folder / "limits"
    shutil.copytree(LIMITS, work)
    texts = [path.read_text(encoding="utf-8") for path in sorted(LIMITS.glob("*.toml"))]
    path = work / "changed.toml"
    for number in range(count):
        path.write_text(changed_text(random_, random_.choice(texts)), encoding="utf-8")
        name = str(number)
        if judged(found, "limit file", name, {PASS, REFUSED}, "limits", "check", path) == REFUSED:
            found.counts["limit files refused"] += 1
            continue
        allowed = {FAIL, REFUSED, VOID}
        code = judged(found, "limit file", name, allowed, "judge", recording, "--limits", path)
        found.counts[f"limit files that judge with {code}"] += 1


def fuzz_stations(found: Found, folder: Path, count: int, seed: int) -> None:
    """Change station files; a unit with a dead tweeter is tested with some that are accepted."""
    random_ = random.Random(seed)
    _, text = simulated_station()
    example = Path("station/hardware/files/example.station.toml").read_text(encoding="utf-8")
    path = folder / "station.toml"
    for number in range(count):
        path.write_text(changed_text(random_, random_.choice((text, example))), encoding="utf-8")
        try:
            station_file(path)
        except StationError:
            found.counts["station files refused"] += 1
            continue
        except Exception as error:  # noqa: BLE001 - any other is what is looked for
            found.bad.append(f"station file {number}: {error!r}")
            continue
        found.counts["station files accepted"] += 1
        if found.counts["station files accepted"] % TRIED_EVERY == 0:
            code = judged(
                found, "station file", str(number), {FAIL, REFUSED, VOID, 4},
                "test", "T2A00001", "--simulate", "--fault", "dead_tweeter", "--station-file",
                path, "--logs", folder / "stationlogs", "--limits-folder", LIMITS,
            )  # fmt: skip
            found.counts[f"of them tried, left with {code}"] += 1


def fuzz_recordings(found: Found, folder: Path, recording: Path, count: int, seed: int) -> None:
    """Change recordings with facts inside and beside, and the facts beside."""
    random_ = random.Random(seed)
    wav = with_sidecar(recording, folder / "beside")
    flac_bytes, wav_bytes = recording.read_bytes(), wav.read_bytes()
    facts = wav.with_suffix(".toml").read_text(encoding="utf-8")
    limits = LIMITS / "tarn2.toml"
    work = folder / "recordings"
    for number in range(count):
        shutil.rmtree(work, ignore_errors=True)
        work.mkdir()
        kind = ("recording inside", "recording beside", "sidecar")[number % 3]
        path = work / ("unit.flac" if number % 3 == 0 else "unit.wav")
        beside = facts if number % 3 == 1 else changed_text(random_, facts)
        if number % 3 == 0:
            path.write_bytes(changed_bytes(random_, flac_bytes))
        else:
            path.write_bytes(wav_bytes if number % 3 == 2 else changed_bytes(random_, wav_bytes))
            path.with_suffix(".toml").write_text(beside, encoding="utf-8")
        allowed = {FAIL, REFUSED, VOID}
        code = judged(found, kind, str(number), allowed, "judge", path, "--limits", limits)
        found.counts[f"{kind}: left with {code}"] += 1


@contextlib.contextmanager
def guarded() -> Iterator[None]:
    """Let a hang raise, and a file that asks for all memory fail."""

    def give_up(_number: int, _frame: FrameType | None) -> None:
        raise HangError

    before = signal.signal(signal.SIGALRM, give_up)
    limits = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, limits)
        signal.signal(signal.SIGALRM, before)


def fuzzed(folder: Path, files: int, recordings: int, seed: int) -> Found:
    """Feed so many changed files to the commands; seven of ten files are limit files."""
    found = Found()
    with guarded(), np.errstate(all="ignore"):
        recording = dead_tweeter(folder)
        fuzz_limits(found, folder, recording, files * 7 // 10, seed)
        fuzz_stations(found, folder, files - files * 7 // 10, seed + 1)
        fuzz_recordings(found, folder, recording, recordings, seed + 2)
    return found


def main() -> None:
    """Print what became of all files."""
    files = int(sys.argv[1]) if len(sys.argv) > 1 else FILES
    recordings = int(sys.argv[2]) if len(sys.argv) > 2 else RECORDINGS
    with TemporaryDirectory() as folder:
        found = fuzzed(Path(folder), files, recordings, SEED)
    for words, count in sorted(found.counts.items()):
        print(f"{words:<48}{count:>6}")
    for line in found.bad:
        print(line)
    print(f"{files} files and {recordings} recordings: {len(found.bad)} not treated well")


if __name__ == "__main__":
    main()
