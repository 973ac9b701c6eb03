"""Limits learnt from 200 good units, by the commands of an engineer, against fresh production.

    ./.run python -m tests.studies.learntlimits [MODEL] [FRESH] [EACH] [FOLDER] [WORKERS]

In a works of its own, 200 simulated good units at the temperatures of a hall are tested (`station
test`), reference, population and limits are learnt from them (`station limits learn`), the draft
is released by the engineer's key, and one unit is tested in production by it. FRESH good units
and EACH units with every fault are then tested by the line's own rule (`station power`), none of
which was learnt from. Only sides, modes and scales are the shipped file's, and the limits of
polarity and of the rated impedance. In a FOLDER that is named a study goes on that was stopped
after the release. It takes hours on a busy machine: `nice -n 5`, and OPENBLAS_NUM_THREADS=1 saves
a third of it.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from station.cli.running import exit_code_of
from tests.cli.inprocess import Outcome, quietly
from tests.cli.works import Works, new_works
from tests.demo_limits.production import in_the_hall
from tests.demo_limits.studies import summary_of
from tests.studies.tables import table

LEARNT_FROM, FRESH, EACH = 200, 5000, 40
LINE_SEED, POWER_SEED = 41, 42
BEGINS = "01000"  # the units that `station power` draws begin here
COMMON = (
    "reversed_woofer", "dead_woofer", "open_crossover_part", "shorted_crossover_part",
    "swapped_parts", "wrong_driver", "coil_rub=62", "loose_part_buzz=62", "air_leak=62",
    "weak_magnet=0.12", "shorted_turn=0.05", "wrong_capacitor=0.2", "wrong_capacitor=-0.2",
    "drifted_woofer_capacitor=0.2", "drifted_woofer_capacitor=-0.2", "stiff_surround=0.1",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Studied:
    """A model, and the faults that its learnt limits must find."""

    prefix: str
    faults: tuple[str, ...]


MODELS = {
    "tarn2": Studied("T2A", (*COMMON, "reversed_tweeter", "dead_tweeter")),
    "fell60": Studied(
        "F6A", (*COMMON, "reversed_panel", "dead_panel", "missing_bias", "low_bias=0.15")
    ),
}


def done(outcome: Outcome) -> Outcome:
    """Return what a command came to; end the study where it was refused."""
    if outcome.code != 0:
        raise SystemExit(f"{outcome.out}\n{outcome.err}")
    return outcome


def tested(works: Works, serials: Iterable[str]) -> None:
    """Test good units, each at the temperature the hall has then; no verdict matters."""
    for serial in serials:
        hall = f"station_hot_room={in_the_hall(serial).temperature_c:.2f}"
        shown = works.test(serial, "--seed", str(LINE_SEED), "--fault", hall)
        if shown.code not in (0, 1):
            raise SystemExit(f"{serial}: {shown.out}{shown.err}")


def learnt(folder: Path, model: str, units: int = LEARNT_FROM) -> tuple[Path, str]:
    """Return a limit file learnt and released in a works of its own, and what was told of it."""
    works, prefix = new_works(folder / "works", quietly), MODELS[model].prefix
    base, draft = works.limits / f"{model}.toml", works.limits / f"{model}-learnt.toml"
    works.make_key(works.key.name)
    done(works.trust(works.key))
    done(works.release(base, works.key))
    tested(works, (f"{prefix}{number:05d}" for number in range(units)))
    told = done(
        works.run(
            "limits", "learn", base, draft, "--also-failed", "--new-reference",
            "--pattern", "response", "--revision", "B", "--holds-from", f"{prefix}{BEGINS}",
        )
    ).out  # fmt: skip
    done(works.station("limits", "check", draft))
    done(works.release(draft, works.key))
    (run,) = works.test(f"{prefix}{BEGINS}", "--json").runs()
    if (run["revision"], run["trial"]) != ("B", False):
        raise SystemExit(f"The learnt limits did not judge in production: {run}")
    return draft, told


def studied(
    draft: Path, faults: Iterable[str], out: Path, fresh: int, each: int, workers: int = 1
) -> dict[str, Any]:
    """Return what becomes of fresh good units, and of units with every fault."""
    arguments = (
        "power", "--limits", draft, "--units", fresh, "--per-rung", each, "--seed", POWER_SEED,
        "--faults", ",".join(faults), "--out", out, "--workers", workers,
    )  # fmt: skip
    if exit_code_of([str(argument) for argument in arguments]) != 0:
        raise SystemExit("The study was refused.")
    return summary_of(draft, [out], datetime.now(UTC).date())


def figures(summary: dict[str, Any]) -> str:
    """Return the figures as they stand in DEVELOPERS.md, each with its 95 % interval."""
    good = summary["good"]
    rejected, void = good["rejected"], good["void"]
    passed = good["units"] - rejected[0] - void[0]
    rows = [
        (name, f"{one['found'][0]} of {one['units']}", str(one["void"]), one["first"])
        for name, one in summary["faults"].items()
    ]
    return "\n".join((
        f"{summary['model']}: of {good['units']} fresh good units {passed} passed "
        f"({passed / max(good['units'], 1):.2%}), {rejected[0]} failed "
        f"({rejected[1]:.2%} to {rejected[2]:.2%}) by {good['rejected_by']}, {void[0]} stayed "
        f"void; {good['swept_again'][0]} were swept again.",
        table("Faults", ("fault", "found", "void", "mostly by"), rows),
    ))  # fmt: skip


def main() -> None:
    """Learn, release, study, and print."""
    words = dict(enumerate(sys.argv[1:]))
    model = words.get(0, "tarn2")
    fresh, each = int(words.get(1, FRESH)), int(words.get(2, EACH))
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(words.get(3, temporary))
        draft = folder / "works" / "limits" / f"{model}-learnt.toml"
        if not draft.with_suffix(".release").exists():
            draft, told = learnt(folder, model)
            print(told)
        workers = int(words.get(4, 1))
        summary = studied(draft, MODELS[model].faults, folder / "power", fresh, each, workers)
    print(figures(summary))


if __name__ == "__main__":
    main()
