"""The simulated scanner: labels of a batch, one after another."""

from __future__ import annotations

from collections.abc import Iterable


class SimulatedScanner:
    """Reads the labels of a batch in the order of the line; None when the batch is done."""

    def __init__(self, serials: Iterable[str]) -> None:
        self._serials = iter(serials)

    def next_serial(self) -> str | None:
        """Return the next label's serial number; None when there are no more."""
        return next(self._serials, None)

    def end(self) -> None:
        """Read no more labels."""
        self._serials = iter(())
