"""A fixture that no longer holds tight: its seal reflects and leaks, its microphone hangs loose."""

from __future__ import annotations

from dataclasses import dataclass

from numpy.random import Generator

from station.simulation.bench.room import Reflection

SEAL_FROM_M, SEAL_TO_M = 0.3, 2.5  # way by the seal, longer than the direct one by so much
SEAL_DULL_HZ = 9000.0
SLACK_M = 0.03  # how far the microphone may hang from its place, either way
LEAK_DB = 6.0  # noise that comes in more


@dataclass(frozen=True, slots=True)
class Looseness:
    """How the fixture happens to sit in one run; another run finds it otherwise."""

    seal: Reflection
    microphone_off_m: float
    leak_db: float


def looseness_of(seal_db: float, rng: Generator) -> Looseness:
    """Return one way for a loose fixture to sit, with a seal that reflects at a level."""
    extra_m = float(rng.uniform(SEAL_FROM_M, SEAL_TO_M))
    off_m = float(rng.uniform(-SLACK_M, SLACK_M))
    return Looseness(Reflection(extra_m, seal_db, SEAL_DULL_HZ), off_m, LEAK_DB)
