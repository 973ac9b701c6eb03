"""The operator's screen on a simulated line whose fixture is a process behind a serial port.

For looking at it: `python -m tests.screens.wired_screen FOLDER [button]`, and from another terminal
write lines to FOLDER/tell, such as `open`, `close`, `press`, `unplug fixture`, `plug fixture`,
`line fixture garbage 0`; see serial_process.py for all.
"""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

from station.screens.line.app import OperatorApp
from tests.cycle.wiredline import WiredLine, wired_line


def obey(line: WiredLine, pipe: Path) -> None:
    """Do to the fixture whatever is written into the pipe."""
    while True:
        with pipe.open() as lines:
            for words in lines:
                line.bench.tell(words.strip())


def main(folder: Path, *, button: bool) -> None:
    pipe = folder / "tell"
    os.mkfifo(pipe)
    table = {"start": "button", "start_limit_s": 60.0} if button else {}
    with wired_line(folder, paced=True, answer_limit_s=0.3, **table) as line:
        threading.Thread(target=obey, args=(line, pipe), daemon=True).start()
        app = OperatorApp(
            line.cycle,
            station_name="Line 1",
            simulated=True,
            on_fault=print,
            ears_db_spl=line.cycle.ears_db_spl(),
        )
        app.run(mouse=False)


if __name__ == "__main__":
    main(Path(sys.argv[1]), button="button" in sys.argv[2:])
