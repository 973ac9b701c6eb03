"""Whether a calibration is accepted, and what the operator is told."""

from __future__ import annotations

import math
from dataclasses import dataclass

from station.cycle.calibration.calibrationstate import InputState, day_words

# The two levels of sound calibrators: about 1 Pa and about 10 Pa.
CALIBRATOR_LEVELS_DB_SPL = (94.0, 114.0)
# A tone this near to the calibrator's other level is taken for a wrong setting of its switch; an
# input seldom drifts by so little less than 20 dB.
SWITCHED_WITHIN_DB = 3.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a calibration came to; the sentences are for the operator."""

    drift_db: float | None
    accepted: bool
    happened: str
    remedy: str


def outcome_of(
    state: InputState,
    full_scale: float,
    drift_db: float | None,
    drift_limit_db: float,
    level_db_spl: float | None,
) -> Outcome:
    """Return whether a new full scale is accepted; the level is a calibrator's, if one was used."""
    change_db = 20.0 * math.log10(full_scale / state.full_scale)
    if level_db_spl is not None and (other := other_level(level_db_spl, change_db)) is not None:
        return Outcome(
            drift_db,
            False,
            f"The tone is that of {other:g} dB, not of {level_db_spl:g} dB: the calibrator seems "
            "to be switched to its other level.",
            f"Say --level {other:g}, or switch the calibrator to {level_db_spl:g} dB, and "
            "calibrate again.",
        )
    if drift_db is None or state.in_use is None:
        return Outcome(
            None,
            True,
            f"This is the first calibration of the {state.words}: {signed_words(change_db)} "
            "from the station file.",
            in_force(state),
        )
    last = day_words(state.in_use.calibrated_utc)
    happened = (
        f"The {state.words} has drifted by {signed_words(drift_db)} since {last}; "
        f"{drift_limit_db:g} dB are allowed."
    )
    if abs(drift_db) <= drift_limit_db:
        return Outcome(drift_db, True, happened, in_force(state))
    return Outcome(
        drift_db,
        False,
        happened,
        "Calibrate again with care; if it stays, call the technician. If the input was changed on "
        f"purpose, set its full_scale in the station file to {full_scale:.4g}, then calibrate.",
    )


def other_level(level_db_spl: float, change_db: float) -> float | None:
    """Return the level that a calibrator gives in truth, None if it is the one that was said."""
    heard_db_spl = level_db_spl - change_db
    for other in CALIBRATOR_LEVELS_DB_SPL:
        if other != level_db_spl and abs(heard_db_spl - other) <= SWITCHED_WITHIN_DB:
            return other
    return None


def in_force(state: InputState) -> str:
    """Return from when on an accepted calibration counts."""
    due = "" if state.due_days is None else f"; the next one is due in {state.due_days:g} days"
    return f"It counts from the next unit on{due}."


def signed_words(level_db: float) -> str:
    """Return a difference of levels with its sign; what rounds to nothing is +0.00."""
    return f"{round(level_db, 2) + 0.0:+.2f} dB"
