"""The simulated line as its operator finds it: what stands before the station, and what is done.

The operator decides which unit is scanned, and so does what happens: a failed unit that is
scanned again has been repaired as the station advised; a void has had its cause mended.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from station.simulation.conditions import Conditions
from station.simulation.factory.repairs import advice_leads_to
from station.simulation.factory.shift import Shift, is_reference
from station.simulation.faults import fault_of, station_faults, unit_faults
from station.simulation.products.units import model_of

Faults = Mapping[str, float]
Answer = Literal["pass", "fail", "void"]


@dataclass(frozen=True, slots=True)
class LineState:
    """Between two scans; `planted` overrides the shift for some serial numbers."""

    shift: Shift
    planted: Mapping[str, Faults] = field(default_factory=dict)
    place: int = 0  # of the unit that waits
    scans: int = 0
    trouble: Faults = field(default_factory=dict)
    mended: frozenset[str] = frozenset()  # units whose fault is gone
    cleared: frozenset[str] = frozenset()  # serials whose planted fault of the station is gone
    repairs: int = 0

    @property
    def waiting(self) -> str:
        """Serial number of the unit to be scanned next."""
        return self.shift.serial_at(self.place)

    def faults_on_bench(self, serial: str) -> Faults:
        """Return the faults that a scan of this unit meets, its own and the station's."""
        told = self.planted.get(serial)
        own = unit_faults(self.shift.faults_of(serial) if told is None else told)
        faults = {} if serial in self.mended else own
        if told is None:
            faults |= self.shift.bang_at(self.scans)
        elif serial not in self.cleared:
            faults |= station_faults(told)
        model = model_of(serial).name
        return faults | {
            name: severity
            for name, severity in self.trouble.items()
            if model in fault_of(name).models
        }

    def conditions(self) -> Conditions:
        """Return how warm it is."""
        return Conditions(temperature_c=self.shift.temperature_c(self.scans))

    def after(self, serial: str, answer: Answer, advice: str) -> LineState:
        """Return the line after a test; `advice` is the sentence that the operator read."""
        told = replace(self, scans=self.scans + 1)
        if answer == "void" or (answer == "fail" and is_reference(serial)):
            # the operator or the technician mends the station, then the same unit comes again
            return replace(told, trouble={}, cleared=self.cleared | {serial})
        if answer == "fail":
            told = repaired(told, serial, advice)
        return arrived(told) if serial == self.waiting else told


def repaired(state: LineState, serial: str, advice: str) -> LineState:
    """Return the line after a repair, which helps only at the right part, and not always."""
    own = unit_faults(state.faults_on_bench(serial))
    led = bool(own) and all(advice_leads_to(fault, advice) for fault in own)
    mends = led and state.shift.mends(serial, state.repairs)
    mended = state.mended | {serial} if mends else state.mended
    return replace(state, mended=mended, repairs=state.repairs + 1)


def arrived(state: LineState) -> LineState:
    """Return the line with the next unit waiting, and the trouble that begins meanwhile."""
    place = state.place + 1
    return replace(state, place=place, trouble=state.trouble or state.shift.trouble_at(place))


class SimulatedLine:
    """Holds the present state of a line, for the devices and for whoever shows it."""

    def __init__(self, state: LineState) -> None:
        self.state = state

    def waiting(self) -> str:
        """Return the serial number of the unit to be scanned next."""
        return self.state.waiting

    def faults_of(self, serial: str) -> Faults:
        """Return the faults that a scan of this unit meets now."""
        return self.state.faults_on_bench(serial)

    def conditions_of(self, _serial: str) -> Conditions:
        """Return the conditions of a test now."""
        return self.state.conditions()

    def tell(self, serial: str, answer: Answer, advice: str) -> None:
        """Let the line know how a test ended."""
        self.state = self.state.after(serial, answer, advice)
