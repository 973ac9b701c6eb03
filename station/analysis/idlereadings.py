"""All readings of the silence before the sweep: the room's, and a powered unit's own."""

from __future__ import annotations

import math
from collections.abc import Iterator

from station.analysis.acoustic.ambient import ambient_level
from station.analysis.acoustic.idlenoise import idle_noise
from station.analysis.gathering import (
    IDLE_NAMES,
    IDLE_NOISE_NAMES,
    NOISE_PREFIX,
    attempted,
    one_number,
)
from station.analysis.plan import IdleNoisePlan, Plan
from station.analysis.readings import Number, Readings
from station.analysis.recording import Recording
from station.analysis.signals.leadin import lead_in

ANY_PROMINENCE_DB = 0.0  # the prominence is a reading of its own


def idle_readings(recording: Recording, plan: Plan) -> Iterator[Readings]:
    """Yield the ambient level and, of a powered unit, its noise and hum."""
    yield attempted(("ambient",), lambda: one_number("ambient", ambient_level(recording), "dB"))
    if (idle := plan.idle_noise) is not None:
        yield attempted(IDLE_NAMES, lambda: unit_readings(recording, idle))
        yield attempted(IDLE_NOISE_NAMES, lambda: room_readings(recording, idle))


def unit_readings(recording: Recording, plan: IdleNoisePlan) -> Readings:
    """Return noise and hum at 1 m, as the main microphone heard them; nothing is subtracted."""
    heard = lead_in(recording, "microphone")
    found = idle_noise(heard, recording.rate_hz, plan.hum_orders, ANY_PROMINENCE_DB)
    nearer_db = 20.0 * math.log10(recording.distance_m)
    return Readings(
        numbers={
            "idle_noise": Number(found.a_weighted_db_spl + nearer_db, "dB"),
            "hum": Number(found.hum.total_db_spl + nearer_db, "dB"),
            "hum_prominence": Number(found.hum.prominence_db, "dB"),
        }
    )


def room_readings(recording: Recording, plan: IdleNoisePlan) -> Readings:
    """Return what the room alone would have read, by the ambient microphone."""
    heard = lead_in(recording, "ambient")
    found = idle_noise(heard, recording.rate_hz, plan.hum_orders, ANY_PROMINENCE_DB)
    nearer_db = 20.0 * math.log10(recording.distance_m)
    return Readings(
        numbers={
            f"{NOISE_PREFIX}idle_noise": Number(found.a_weighted_db_spl + nearer_db, "dB"),
            f"{NOISE_PREFIX}hum": Number(found.hum.total_db_spl + nearer_db, "dB"),
        }
    )
