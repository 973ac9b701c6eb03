"""No unit is tested at a temperature its limits do not hold for."""

from __future__ import annotations

from station.errors import StationFaultError
from station.hardware.protocols.thermometer import Thermometer
from station.judging.tables.tables import LimitFile


def check_temperature(thermometer: Thermometer, limits: LimitFile) -> None:
    """Refuse to test where it is too cold or too warm; where nobody knows, nothing is refused.

    Raises
    ------
    StationFaultError
        If the temperature lies outside what the limit file states.
    """
    table, temperature_c = limits.conditions, thermometer.temperature_c()
    if table is None or temperature_c is None:
        return
    if not table.from_c <= temperature_c <= table.to_c:
        raise StationFaultError(
            f"It is {temperature_c:.1f} °C at the unit; the limits of the {limits.model.name} "
            f"hold from {table.from_c:g} to {table.to_c:g} °C.",
            "Bring room and unit to that temperature, then test again.",
        )
