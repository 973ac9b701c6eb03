"""Simulated units that come back: each has one fault, until the right part is replaced."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

from station.simulation.factory.repairs import part_mends
from station.simulation.faults import FAULTS, STATION_PREFIX
from station.simulation.products.units import model_of


class ReturnedUnits:
    """Knows what is wrong with every unit that is brought back, and what has been mended."""

    def __init__(self, seed: int) -> None:
        self._seed = seed
        self._mended: set[str] = set()

    def faults_of(self, serial: str) -> Mapping[str, float]:
        """Return what is wrong with a unit now; a pure function of seed and serial until mended."""
        return {} if serial in self._mended else fault_at_return(self._seed, serial)

    def replaced(self, serial: str, part: str) -> None:
        """Let a part be replaced, which helps only if the fault is in it."""
        fault = fault_at_return(self._seed, serial)
        if all(part_mends(name, severity, part) for name, severity in fault.items()):
            self._mended.add(serial)


def fault_at_return(seed: int, serial: str) -> Mapping[str, float]:
    """Return the one fault that a unit comes back with, at its usual severity."""
    model = model_of(serial).name
    possible = [
        fault
        for fault in FAULTS
        if model in fault.models and not fault.name.startswith(STATION_PREFIX)
    ]
    digest = hashlib.sha256(f"{seed}/returned/{serial}".encode()).digest()
    fault = possible[int.from_bytes(digest[:4]) % len(possible)]
    return {fault.name: fault.default}
