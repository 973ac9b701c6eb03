"""Calibrations as they are printed: for people, and as the objects that DEVELOPERS.md describes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from station.cli.shared.setupwords import ID_DIGITS
from station.cli.shared.tables import plain_table
from station.cycle.calibration.calibrationstate import INPUT_WORDS
from station.cycle.stored.totaluncertainty import COVERAGE_FACTOR
from station.records.kept.calibration import NOMINAL_UNIT, Calibration

FORMAT = 1
HEADERS = ("UTC", "input", "by means of", "full scale", "drift", "verdict", "by", "°C", "id")


def words_of(calibration: Calibration, folder: Path) -> str:
    """Return a calibration for people: the word, what happened, what to do, the figures."""
    unit = calibration.unit
    expanded = COVERAGE_FACTOR * calibration.standard_uncertainty
    expanded_db = COVERAGE_FACTOR * calibration.standard_uncertainty_db
    rows = [
        ("full scale", f"{calibration.full_scale:#.5g} ± {expanded:#.2g} {unit} (k = 2)"),
        ("uncertainty of levels", f"{expanded_db:#.2g} dB (k = 2)"),
        ("full scale before", f"{calibration.full_scale_before:#.5g} {unit}"),
        ("drift", drift_words(calibration)),
        ("by means of", means_words(calibration)),
        ("by", f"{calibration.calibrated_by}, at {calibration.temperature_c:.1f} °C"),
        ("stored as", calibration.calibration_id),
        ("recording", str(folder / calibration.recording.name)),
    ]
    head = f"{verdict_word(calibration)}  {INPUT_WORDS[calibration.place.role]}"
    told = (head, calibration.happened, calibration.remedy)
    return "\n".join([*told, "", plain_table(("", "found"), rows)])


def table_of(calibrations: Sequence[Calibration]) -> str:
    """Return a line for each calibration."""
    rows = [
        (
            f"{one.calibrated_utc:%Y-%m-%d %H:%M:%S}",
            INPUT_WORDS[one.place.role],
            means_words(one),
            f"{one.full_scale:#.5g} {one.unit}",
            drift_words(one),
            verdict_word(one),
            one.calibrated_by,
            f"{one.temperature_c:.1f}",
            one.calibration_id[:ID_DIGITS],
        )
        for one in calibrations
    ]
    return plain_table(HEADERS, rows)


def verdict_word(calibration: Calibration) -> str:
    """Return the one word of a calibration."""
    return "ACCEPTED" if calibration.accepted else "REFUSED"


def means_words(calibration: Calibration) -> str:
    """Return what it was calibrated with."""
    return f"{calibration.means} {calibration.nominal:g} {NOMINAL_UNIT[calibration.means]}"


def drift_words(calibration: Calibration) -> str:
    """Return the drift with its limit."""
    if calibration.drift_db is None:
        return "first one"
    return f"{calibration.drift_db:+.3f} dB of {calibration.drift_limit_db:g} dB"


def as_object(calibration: Calibration) -> dict[str, object]:
    """Return a calibration as the object it is printed as."""
    return {
        "format": FORMAT,
        "id": calibration.calibration_id,
        "utc": calibration.calibrated_utc.isoformat(),
        "simulated": calibration.simulated,
        "station": calibration.place.station_name,
        "input": calibration.place.input,
        "role": calibration.place.role,
        "means": calibration.means.value,
        "nominal": calibration.nominal,
        "nominal_unit": NOMINAL_UNIT[calibration.means],
        "full_scale": calibration.full_scale,
        "full_scale_before": calibration.full_scale_before,
        "unit": calibration.unit,
        "standard_uncertainty": calibration.standard_uncertainty,
        "standard_uncertainty_db": calibration.standard_uncertainty_db,
        "drift_db": calibration.drift_db,
        "drift_limit_db": calibration.drift_limit_db,
        "temperature_c": calibration.temperature_c,
        "by": calibration.calibrated_by,
        "verdict": verdict_word(calibration).lower(),
        "happened": calibration.happened,
        "remedy": calibration.remedy,
        "recording": calibration.recording.name,
    }
