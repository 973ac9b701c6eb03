"""What happened at the station besides results: one JSON object a line, one file a day.

Results are the log's; this is for whoever asks afterwards why the line stood still. Each line has
`utc`, `monotonic_s` (which never steps), `event` and the facts of that event. The file is for
reading by any tool, so nothing in it is ever needed by the station.
"""

from __future__ import annotations

import json
import threading
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

Fact = str | int | float | None


class EventLog:
    """Appends events; one may be used from several threads, and by several stations.

    An event that cannot be written is dropped: where the disk is full or gone, the log of runs
    says so itself, and the line must not stop for want of a note.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()

    def append(self, utc: datetime, monotonic_s: float, event: str, **facts: Fact) -> None:
        """Write one event."""
        day = utc.astimezone(UTC)
        line = json.dumps(
            {"utc": day.isoformat(timespec="milliseconds"), "monotonic_s": round(monotonic_s, 3)}
            | {"event": event, **facts},
            ensure_ascii=False,
        )
        with self._lock, suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            # One write in append mode: lines of two processes never mix.
            with (self._folder / f"{day:%Y-%m-%d}.jsonl").open("a", encoding="utf-8") as file:
                file.write(f"{line}\n")
