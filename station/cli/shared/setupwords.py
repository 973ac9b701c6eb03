"""What a run was measured with, in one line for people."""

from __future__ import annotations

from collections.abc import Iterator

from station.cycle.calibration.calibrationstate import INPUT_WORDS, day_words
from station.records.kept.run import Run

ID_DIGITS = 8  # of an id that people may compare


def setup_words(run: Run) -> str:
    """Return the temperature, and for each input its calibration or that there is none."""
    return "; ".join(parts(run))


def verdict_word(run: Run) -> str:
    """Return the one word of a run; that of a trial is never a plain one."""
    word = run.judgement.verdict.value.upper()
    return f"TRIAL: {word}" if run.trial else word


def parts(run: Run) -> Iterator[str]:
    """Yield what is to be said."""
    yield f"Station {run.setup.station_name}"
    if run.trial:
        yield "a trial, no result of production"
    if run.operator is not None:
        yield f"operator {run.operator.name}"
    yield "temperature not noted" if run.temperature_c is None else f"{run.temperature_c:.1f} °C"
    for role, used in run.setup.calibrations.items():
        if used is not None:
            day, name = day_words(used.calibrated_utc), used.calibration_id[:ID_DIGITS]
            yield f"{INPUT_WORDS[role]} calibrated {day} ({name})"
    bare = [INPUT_WORDS[role] for role, used in run.setup.calibrations.items() if used is None]
    if bare:
        yield f"not calibrated: {', '.join(bare)}"
