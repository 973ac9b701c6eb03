"""A unit's response now, drawn against itself as built."""

from __future__ import annotations

import numpy as np

from station.analysis.readings import Readings
from station.errors import NoSignalError
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.verdict import AppliedBand
from station.service.asbuilt import RESPONSE, on_one_grid


def band_as_built(then: Readings, now: Readings, limits: LimitFile) -> AppliedBand | None:
    """Return the response now between the limits for a unit as built; None without both.

    Where the limit file has no such limits, both lie on the curve as built. Level and shape are
    told apart elsewhere: here the band has room for both at once.
    """
    first, second = then.curves.get(RESPONSE), now.curves.get(RESPONSE)
    if first is None or second is None or first.unit != second.unit:
        return None
    try:
        frequency_hz, then_db, now_db = on_one_grid(first, second)
    except NoSignalError:
        return None
    table = limits.as_built
    room_db = 0.0 if table is None else table.level_db + table.shape_db
    outside = (np.abs(now_db - then_db) > room_db) & (table is not None)
    return AppliedBand(
        frequency_hz,
        now_db,
        then_db - room_db,
        then_db + room_db,
        outside.astype(np.float64),
        second.unit,
    )
