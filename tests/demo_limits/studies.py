"""Write the study that justifies a demo limit file, beside it: `limits/<model>.study.json`.

    ./.run station power --limits limits/tarn2.toml --out /tmp/tarn2 …
    ./.run python -m tests.demo_limits.studies limits/tarn2.toml /tmp/tarn2 [FOLDER …]

Several folders are several studies of the same limit file by the same program with the same seed:
good units in one, faults in another. Of a study that is still going on, what is there counts.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Iterable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from station.analysis.statistics.proportions import CONFIDENCE_RATIO, Proportion, proportion
from station.study.findings import Tally, tally
from station.study.jobs import GOOD
from station.study.outcome import End, Outcome, outcome_of
from station.study.resultsfile import NAME
from station.study.unitline import sha256_of

FORMAT = 1
DIGITS = 3
STATION = "station_"
DECIDING = (
    "stimulus", "repeats", "integrity", "conditions", "readings", "reference", "bands", "numbers",
    "decision", "advice",
)  # fmt: skip


def study_path(limits: Path) -> Path:
    """Return where the study of a limit file stands."""
    return limits.with_suffix(".study.json")


def deciding_sha256(text: str) -> str:
    """Return the hash of what decides on the line; remarks, netlist and service do not."""
    contents = tomllib.loads(text)
    deciding = {name: contents[name] for name in DECIDING if name in contents}
    return sha256_of(json.dumps(deciding, sort_keys=True, default=str))


def summary_of(limits: Path, folders: Iterable[Path], day: date) -> dict[str, Any]:
    """Return the figures of some studies of one limit file; refuse those of another."""
    header: dict[str, Any] = {}
    outcomes: dict[str, list[Outcome]] = {}
    for folder in folders:
        first, *lines = (folder / NAME).read_text(encoding="utf-8").split("\n")
        found = json.loads(first)
        if header and found != header:
            raise SystemExit(f"{folder} is not of the same study as the folder before it.")
        header = found
        for line in lines[:-1]:  # a last line without its end was cut off
            outcome = outcome_of(line)
            outcomes.setdefault(f"{outcome.key.group}@{outcome.key.severity}", []).append(outcome)
    text = limits.read_text(encoding="utf-8")
    sha256 = sha256_of(text)
    if header.get("limits_sha256") != sha256:
        raise SystemExit(f"{limits} is not the file that was studied.")
    good = outcomes.pop(f"{GOOD}@0.0", [])
    rungs = [found[0].key for found in outcomes.values()]
    unit = [key for key in rungs if not key.group.startswith(STATION)]
    station = [key for key in rungs if key.group.startswith(STATION)]

    def counted(group: str, severity: float) -> Tally:
        return tally(outcomes[f"{group}@{severity}"])

    return {
        "format": FORMAT,
        "limits": header["limits"],
        "limits_sha256": sha256,
        "deciding_sha256": deciding_sha256(text),
        "model": header["model"],
        "revision": header["revision"],
        "day": day.isoformat(),
        "seed": header["seed"],
        "code": header["versions"]["code"],
        "confidence_ratio": CONFIDENCE_RATIO,
        "good": good_lines(good),
        "faults": {line_name(key.group, key.severity): found_words(counted(key.group, key.severity))
                   for key in unit},
        "station": {line_name(key.group, key.severity): blame(counted(key.group, key.severity))
                    for key in station},
        "station_together": blame(
            tally([o for key in station for o in outcomes[f"{key.group}@{key.severity}"]])
        ),
    }  # fmt: skip


def good_lines(outcomes: list[Outcome]) -> dict[str, Any]:
    """Return what became of good units."""
    counted = tally(outcomes)
    repeated = sum(outcome.sweeps > 1 for outcome in outcomes)
    return {
        "units": counted.n,
        "rejected": share(counted.share(End.FAIL)),
        "rejected_by": dict(counted.first_causes),
        "void": share(counted.share(End.VOID)),
        "swept_again": share(proportion(repeated, counted.n)),
    }


def found_words(counted: Tally) -> dict[str, Any]:
    """Return how many units with a fault were found, and by what."""
    first = next(iter(counted.first_causes), "")
    void = counted.ends.get(End.VOID, 0)
    return {
        "units": counted.n, "found": share(counted.share(End.FAIL)), "void": void, "first": first,
    }  # fmt: skip


def blame(counted: Tally) -> dict[str, Any]:
    """Return what became of good units on a station with a fault."""
    return {
        "units": counted.n,
        "blamed": share(counted.share(End.FAIL)),
        **{end.value: counted.ends.get(end, 0) for end in (End.VOID, End.REFUSED, End.PASS)},
    }


def line_name(group: str, severity: float) -> str:
    """Return the name of a fault with its severity, as `--faults` takes it."""
    name = group.partition("=")[0].partition(" ")[0]
    return f"{name}={severity:g}"


def share(counted: Proportion) -> list[float]:
    """Return a count with the two ends of its share's interval."""
    ends = (counted.lower_ratio, counted.upper_ratio)
    return [counted.hits, *(float(f"{end:.{DIGITS}g}") for end in ends)]


def text_of(summary: dict[str, Any]) -> str:
    """Return a summary as JSON with one line for each fault."""
    parts = []
    for name, value in summary.items():
        if name in ("faults", "station"):
            inner = ",\n".join(
                f"  {json.dumps(key, ensure_ascii=False)}: {json.dumps(each, ensure_ascii=False)}"
                for key, each in value.items()
            )
            parts.append(f" {json.dumps(name)}: {{\n{inner}\n }}")
        else:
            parts.append(f" {json.dumps(name)}: {json.dumps(value, ensure_ascii=False)}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def main() -> None:
    """Write the study beside the limit file named first, from the folders named after it."""
    limits, *folders = (Path(word) for word in sys.argv[1:])
    summary = summary_of(limits, folders, datetime.now(UTC).date())
    study_path(limits).write_text(text_of(summary), encoding="utf-8")


if __name__ == "__main__":
    main()
