"""The text in which a run names the calibrations that its inputs were read by."""

from __future__ import annotations

import json
from datetime import datetime

from station.records.kept.run import Setup, UsedCalibration
from station.records.rows.values import float_of, json_float, json_text, sha256, utc_text


def calibrations_sha256(setup: Setup) -> str | None:
    """Return the SHA-256 of the text that names the calibrations, None if nothing is said."""
    return sha256(calibrations_text(setup).encode()) if setup.calibrations else None


def calibrations_text(setup: Setup) -> str:
    """Return the calibrations used, by role, as JSON; null for an input that has none.

    Each is an object of calibration_id, calibrated_utc, full_scale and standard_uncertainty_db.
    """
    return json_text(
        {
            role: None
            if used is None
            else {
                "calibration_id": used.calibration_id,
                "calibrated_utc": utc_text(used.calibrated_utc),
                "full_scale": json_float(used.full_scale),
                "standard_uncertainty_db": json_float(used.standard_uncertainty_db),
            }
            for role, used in setup.calibrations.items()
        }
    )


def calibrations_of(text: str) -> dict[str, UsedCalibration | None]:
    """Return the calibrations that a text names."""
    return {
        role: None
        if used is None
        else UsedCalibration(
            used["calibration_id"],
            datetime.fromisoformat(used["calibrated_utc"]),
            float_of(used["full_scale"]),
            float_of(used["standard_uncertainty_db"]),
        )
        for role, used in json.loads(text).items()
    }
