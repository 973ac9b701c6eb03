"""Where a fault of a screen's own program is kept: nobody reads a traceback on the screen."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from pathlib import Path

from station.hardware.protocols.clock import Clock

FILE_NAME = "station-faults.txt"


def fault_keeper(folder: Path, clock: Clock) -> Callable[[BaseException], None]:
    """Return what writes a fault into a file of the folder, behind those before it."""

    def keep(error: BaseException) -> None:
        with (folder / FILE_NAME).open("a", encoding="utf-8") as file:
            file.write(f"{clock.utc_now().isoformat()}\n")
            file.writelines(traceback.format_exception(error))

    return keep
