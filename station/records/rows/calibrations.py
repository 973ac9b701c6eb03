"""A calibration as a row of the log, and back."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from datetime import datetime

from station.records.kept.calibration import Calibration, Means, Place
from station.records.kept.run import RecordingRef
from station.records.rows.runs import versions_text
from station.records.rows.values import Row, sha256, stored_float, utc_text

ACCEPTED, REFUSED = "accepted", "refused"

OF_PLACE = """SELECT * FROM calibrations
WHERE station_name = :station_name AND role = :role AND device = :device AND input = :input
AND filed_full_scale = :filed_full_scale"""


def calibration_row(calibration: Calibration) -> Row:
    """Return the row of a calibration, complete but for its place in the chain."""
    return {
        "calibration_id": calibration.calibration_id,
        "calibrated_utc": utc_text(calibration.calibrated_utc),
        "calibrated_by": calibration.calibrated_by,
        "simulated": int(calibration.simulated),
        **place_columns(calibration.place),
        "means": calibration.means.value,
        "nominal": stored_float(calibration.nominal),
        "unit": calibration.unit,
        "full_scale_before": stored_float(calibration.full_scale_before),
        "full_scale": stored_float(calibration.full_scale),
        "standard_uncertainty": stored_float(calibration.standard_uncertainty),
        "drift_db": stored_float(calibration.drift_db),
        "drift_limit_db": stored_float(calibration.drift_limit_db),
        "temperature_c": stored_float(calibration.temperature_c),
        "verdict": ACCEPTED if calibration.accepted else REFUSED,
        "happened": calibration.happened,
        "remedy": calibration.remedy,
        "station_sha256": sha256(calibration.station_text.encode()),
        "versions_sha256": sha256(versions_text(calibration.versions).encode()),
        "recording_name": calibration.recording.name,
        "recording_sha256": calibration.recording.sha256,
    }


def place_columns(place: Place) -> Row:
    """Return the columns that say which input of which station it is."""
    return {
        "station_name": place.station_name,
        "device": place.device,
        "input": place.input,
        "role": place.role,
        "filed_full_scale": stored_float(place.filed_full_scale),
    }


def calibration_texts(calibration: Calibration) -> dict[str, str]:
    """Return the texts a calibration refers to, under their SHA-256."""
    texts = (calibration.station_text, versions_text(calibration.versions))
    return {sha256(text.encode()): text for text in texts}


def calibration_of(row: Row, text: Callable[[str], str]) -> Calibration:
    """Return the calibration that a row tells of; `text` finds texts by their SHA-256."""
    return Calibration(
        calibration_id=row["calibration_id"],
        calibrated_utc=datetime.fromisoformat(row["calibrated_utc"]),
        calibrated_by=row["calibrated_by"],
        place=Place(
            row["station_name"],
            row["device"],
            row["input"],
            row["role"],
            row["filed_full_scale"],
        ),
        means=Means(row["means"]),
        nominal=row["nominal"],
        full_scale_before=row["full_scale_before"],
        full_scale=row["full_scale"],
        standard_uncertainty=row["standard_uncertainty"],
        drift_db=row["drift_db"],
        drift_limit_db=row["drift_limit_db"],
        temperature_c=row["temperature_c"],
        accepted=row["verdict"] == ACCEPTED,
        happened=row["happened"],
        remedy=row["remedy"],
        simulated=bool(row["simulated"]),
        station_text=text(row["station_sha256"]),
        versions=json.loads(text(row["versions_sha256"]) or "{}"),
        recording=RecordingRef(row["recording_name"], row["recording_sha256"]),
    )


def newest_row(connection: sqlite3.Connection, place: Place) -> Row | None:
    """Return the newest calibration of an input, accepted or not."""
    return one_row(connection, place, f"{OF_PLACE} ORDER BY seq DESC LIMIT 1")


def newest_accepted_row(connection: sqlite3.Connection, place: Place) -> Row | None:
    """Return the newest accepted calibration of an input."""
    return one_row(
        connection, place, f"{OF_PLACE} AND verdict = 'accepted' ORDER BY seq DESC LIMIT 1"
    )


def one_row(connection: sqlite3.Connection, place: Place, statement: str) -> Row | None:
    """Return the one row that a statement about a place finds."""
    row = connection.execute(statement, dict(place_columns(place))).fetchone()
    return None if row is None else dict(row)
