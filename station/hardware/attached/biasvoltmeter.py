"""The bias of a panel, as an instrument proves it: gone before, there while on, gone after.

A voltmeter with a broken lead reads zero. So a low reading counts only from one that showed the
bias while it was on; without that the lid stays locked. What voltage counts as safe is the
station file's, by local codes and licensed practice; a low reading replaces neither.
"""

from __future__ import annotations

from typing import Protocol

from station.errors import FixtureError
from station.hardware.files.serialtables import VoltmeterTable
from station.hardware.ports.scpi import ScpiInstrument
from station.hardware.ports.serialport import OpenPort
from station.hardware.protocols.clock import Clock

QUERY = "MEAS:VOLT:DC?"
LOOK_S = 0.2
READINGS_IN_A_ROW = 2  # one low reading may be a late or a lucky one
DO_NOT_OPEN = (
    "Do not open the lid. Call a technician licensed for high voltage; he discharges the panel."
)


class BiasVoltmeter(Protocol):
    """Something that measures the bias."""

    def voltage_v(self) -> float:
        """Return the bias in V; raise FixtureError if it cannot be measured."""


class ScpiBiasVoltmeter:
    """A voltmeter behind a divider."""

    def __init__(self, table: VoltmeterTable, open_port: OpenPort, clock: Clock) -> None:
        self._ratio = table.ratio
        self._instrument = ScpiInstrument("bias voltmeter", table, table.identity, open_port, clock)

    def voltage_v(self) -> float:
        """Return the bias in V."""
        return self._ratio * self._instrument.number(QUERY)

    def close(self) -> None:
        """Give the port back."""
        self._instrument.close()


class BiasWatch:
    """Sees the bias come and go; `table` says what is safe and how long each may take."""

    def __init__(self, voltmeter: BiasVoltmeter, table: VoltmeterTable, clock: Clock) -> None:
        self._voltmeter = voltmeter
        self._table = table
        self._clock = clock
        self._shown = False

    def check_discharged(self) -> None:
        """Raise FixtureError if there is a bias although none was switched on."""
        found_v = abs(self._voltmeter.voltage_v())
        self._shown = False
        if found_v >= self._table.safe_v:
            raise FixtureError(
                f"There are {found_v:.0f} V of bias before it was switched on.", DO_NOT_OPEN
            )

    def await_rise(self) -> None:
        """Wait until the bias is there; raise FixtureError if it does not come in time."""
        deadline_s = self._clock.monotonic_s() + self._table.rise_limit_s
        while (found_v := abs(self._voltmeter.voltage_v())) < self._table.present_from_v:
            if self._clock.monotonic_s() > deadline_s:
                raise FixtureError(
                    f"The bias reads {found_v:.0f} V, {self._table.rise_limit_s:g} s after it was "
                    "switched on.",
                    "Call the technician: the supply, its leads or the voltmeter is at fault.",
                )
            self._clock.wait(LOOK_S)
        self._shown = True

    def await_decay(self) -> None:
        """Wait until the bias is gone; raise FixtureError if it is not seen to go."""
        if not self._shown:
            raise FixtureError(
                "The bias voltmeter never showed the bias, so it cannot show that it is gone.",
                DO_NOT_OPEN,
            )
        deadline_s = self._clock.monotonic_s() + self._table.decay_limit_s
        safe_in_a_row = 0
        while safe_in_a_row < READINGS_IN_A_ROW:
            found_v = abs(self._voltmeter.voltage_v())
            safe_in_a_row = safe_in_a_row + 1 if found_v < self._table.safe_v else 0
            if safe_in_a_row < READINGS_IN_A_ROW and self._clock.monotonic_s() > deadline_s:
                raise FixtureError(
                    f"{self._table.decay_limit_s:g} s after the bias was switched off there are "
                    f"still {found_v:.0f} V.",
                    DO_NOT_OPEN,
                )
            self._clock.wait(LOOK_S)
        self._shown = False
