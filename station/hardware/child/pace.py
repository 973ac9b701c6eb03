"""At what rate a device really runs: frames that passed, by the computer's clock.

Output and inputs of one device share its clock, so a wrong rate shows nowhere in the recording:
every frequency is off alike. Only another clock tells.
"""

from __future__ import annotations

import statistics

FEWEST_PAIRS = 8


class Pace:
    """Notes when blocks were served, and how many frames had passed before each."""

    def __init__(self) -> None:
        self._noted: list[tuple[float, int]] = []

    def note(self, at_s: float, passed_frames: int) -> None:
        """Note one block."""
        self._noted.append((at_s, passed_frames))

    def rate_hz(self) -> float:
        """Return the median rate over pairs of blocks half a run apart, 0 if there are too few.

        A median, because a busy computer serves some blocks late.
        """
        half = len(self._noted) // 2
        pairs = zip(self._noted[:half], self._noted[half:], strict=False)
        rates = [
            (later - earlier) / (later_s - earlier_s)
            for (earlier_s, earlier), (later_s, later) in pairs
            if later_s > earlier_s
        ]
        return statistics.median(rates) if len(rates) >= FEWEST_PAIRS else 0.0
