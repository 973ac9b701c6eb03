"""A fail that a noise in the room may have made is no fail: the run is void."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.trust.roomshift import RoomShift
from station.judging.verdicts.verdict import AppliedBand, Cause, Judgement, Verdict

ROOM = "room"
QUIET = "Wait until it is quiet, then test the unit again."
# What listens beside the sweep hears every noise; a loud one moves what measures the sweep itself.
HEARS_NOISE = re.compile(r"rub|rub_crest|thd|h[0-9]+")
MOVED_BY_NOISE = re.compile(
    r"response|response\.offset|sensitivity|level\..+|filter_.+|pattern\..+"
)


def without_the_rooms(judgement: Judgement, shift: RoomShift) -> Judgement:
    """Return a fail as void if the room may have made every part of it, else as it is.

    A cause stands when one of its points lies further outside than the room may have moved it:
    that is the unit's own, whatever noise there was besides.
    """
    if judgement.verdict is not Verdict.FAIL:
        return judgement
    if len(the_rooms(judgement, shift)) < len(judgement.causes):
        return judgement
    names = " and ".join(dict.fromkeys(cause.reading for cause in judgement.causes))
    happened = f"A noise in the room, not the unit, put {names} outside its limits."
    return void_of(judgement, happened)


def the_rooms(judgement: Judgement, shift: RoomShift) -> tuple[Cause, ...]:
    """Return those causes of a fail that the room may have made."""
    bands = judgement.bands
    return tuple(
        cause for cause in judgement.causes if is_rooms(cause, bands.get(cause.reading), shift)
    )


def only_adds(cause: Cause) -> bool:
    """Return whether a cause is one that noise can only make, never hide."""
    return cause.side == "above" and HEARS_NOISE.fullmatch(cause.reading) is not None


def may_be_noise(judgement: Judgement) -> bool:
    """Return whether a noise, if there was one, can have made all causes of a fail."""
    return all(
        HEARS_NOISE.fullmatch(cause.reading) or MOVED_BY_NOISE.fullmatch(cause.reading)
        for cause in judgement.causes
    )


def hears_noise(judgement: Judgement) -> bool:
    """Return whether a reading fails that listens beside the sweep."""
    return any(HEARS_NOISE.fullmatch(cause.reading) for cause in judgement.causes)


def void_of(judgement: Judgement, happened: str) -> Judgement:
    """Return a fail as void because of the room, with its margins and bands to look at."""
    cause = Cause(ROOM, "untrusted", math.nan, "", None, 0.0, happened, QUIET)
    return replace(judgement, verdict=Verdict.VOID, causes=(cause,), next_step=QUIET)


def is_void_of_the_room(judgement: Judgement) -> bool:
    """Return whether the room alone made a run void."""
    return judgement.verdict is Verdict.VOID and {c.reading for c in judgement.causes} == {ROOM}


def is_rooms(cause: Cause, band: AppliedBand | None, shift: RoomShift) -> bool:
    """Return whether the room may have moved a reading as far outside as it is, at every point."""
    if not math.isfinite(cause.margin):
        return False
    reading, offset, _ = cause.reading.partition(".offset")
    curve = shift.curves.get(reading)
    if offset or curve is None:
        bound = float(np.max(curve.values)) if curve else shift.numbers.get(cause.reading, 0.0)
        return -cause.margin <= bound
    if cause.at_hz is None or band is None:
        return False
    outside = band.outside > 0.0
    depth = np.maximum(band.lower - band.values, band.values - band.upper)[outside]
    at_hz = np.append(band.frequency_hz[outside], cause.at_hz)
    depth = np.append(depth, -cause.margin)
    return bool(np.all(depth <= bound_at(at_hz, curve.frequency_hz, curve.values)))


def bound_at(at_hz: FloatArray, frequency_hz: FloatArray, bound_db: FloatArray) -> FloatArray:
    """Return the bound at the reading's own frequencies; none where it has no value."""
    nearest = np.argmin(np.abs(np.log(at_hz[:, None] / frequency_hz[None, :])), axis=1)
    bounds: FloatArray = np.nan_to_num(bound_db[nearest], nan=0.0)
    return bounds
