"""When a sweep is loud enough, with the room's noise, that ears must be protected."""

from __future__ import annotations

import math

from station.hardware.files.stationfile import StationFile
from station.judging.tables.tables import LimitFile
from station.records.kept.run import Run

AMBIENT = "ambient"  # the reading of the lead-in


def ears_at_risk_db_spl(
    station: StationFile, limits: LimitFile, ambient_db_spl: float | None
) -> float | None:
    """Return the level to be expected if it reaches the station's threshold, else None.

    Unit and room add as powers. The room is as the latest run heard it; before there is one, as
    loud as the limit file lets it be.
    """
    if station.safety is None or limits.safety is None:
        return None
    room_db_spl = limits.integrity.quiet_below_db_spl if ambient_db_spl is None else ambient_db_spl
    powers = [10.0 ** (level / 10.0) for level in (limits.safety.loudest_db_spl, room_db_spl)]
    level_db_spl = 10.0 * math.log10(sum(powers))
    return level_db_spl if level_db_spl >= station.safety.hearing_from_db_spl else None


def ambient_of(run: Run, before_db_spl: float | None) -> float | None:
    """Return the room's level as a run heard it, or what was known before."""
    number = run.readings.numbers.get(AMBIENT)
    return before_db_spl if number is None else number.value
