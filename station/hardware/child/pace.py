"""At what rate a device really runs: frames that passed, by the computer's clock.

Output and inputs of one device share its clock, so a wrong rate shows nowhere in the recording:
every frequency is off alike. Only another clock tells.
"""

from __future__ import annotations

import statistics

APART_SHARE = 4  # pairs are a quarter of a run apart
FEWEST_PAIRS = 24


class Pace:
    """Notes when blocks were served, and how many frames had passed before each."""

    def __init__(self) -> None:
        self._noted: list[tuple[float, int]] = []

    def note(self, at_s: float, passed_frames: int) -> None:
        """Note one block."""
        self._noted.append((at_s, passed_frames))

    def rate_hz(self) -> float:
        """Return the median rate over pairs of blocks a quarter of a run apart, 0 for too few.

        A median, because a busy computer serves some blocks late; a quarter, so that a single halt
        of a whole run, after which all is late, lies within fewer than half of the pairs.
        """
        apart = len(self._noted) // APART_SHARE
        pairs = zip(self._noted, self._noted[apart:], strict=False)
        rates = [
            (later - earlier) / (later_s - earlier_s)
            for (earlier_s, earlier), (later_s, later) in pairs
            if later_s > earlier_s
        ]
        return statistics.median(rates) if len(rates) >= FEWEST_PAIRS else 0.0
