"""Store runs until killed: `python -m tests.records.writer FOLDER`; one id a line, once stored."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

from station.records.log.log import RunLog
from tests.records.example import FACTS, example_recording, example_run


def main() -> None:
    """Store run after run, numbered on from what is there."""
    recording = example_recording()
    with RunLog.open(Path(sys.argv[1])) as log:
        first = int(sys.argv[2])
        for number in range(first, first + 100_000):
            run_id = f"r{number}"
            ref = log.store_recording(recording, replace(FACTS, run_id=run_id))
            log.store(example_run(run_id=run_id, monotonic_s=float(number), recording=ref))
            print(run_id, flush=True)


if __name__ == "__main__":
    main()
