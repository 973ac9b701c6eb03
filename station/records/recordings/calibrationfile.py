"""The recording behind a calibration, kept so that anybody can compute its result again.

FLAC as the recordings of runs, in a folder of its own: there is no sweep in it to judge. The title
is the calibration's id; the comment holds, as JSON, `format` = 1, `calibration_id`,
`recorded_utc`, `station`, `means`, `nominal` (dB or Ω), and `channels`: for each, in the file's
order, `role`, `unit` and `full_scale`, by which it was read until then.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from station.analysis.arrays import FloatArray
from station.analysis.recording import UNIT_OF_ROLE, Channel
from station.records.files.durable import write_durably
from station.records.files.troubles import records_errors
from station.records.kept.calibration import Means
from station.records.recordings.recording_file import flac_bytes
from station.records.rows.values import utc_text

FORMAT = 1


@dataclass(frozen=True, slots=True)
class CalibrationFacts:
    """What the recording of a calibration says of itself besides its samples."""

    calibration_id: str
    recorded_utc: datetime
    station: str
    means: Means
    nominal: float
    channels: Sequence[Channel]


def write_calibration_recording(
    path: Path,
    samples: FloatArray,
    rate_hz: float,
    facts: CalibrationFacts,
    under_way: Path | None = None,
) -> str:
    """Write a new file, safe on the disk when this returns; return its SHA-256 as hex."""
    comment = json.dumps(
        {
            "format": FORMAT,
            "calibration_id": facts.calibration_id,
            "recorded_utc": utc_text(facts.recorded_utc),
            "station": facts.station,
            "means": facts.means.value,
            "nominal": facts.nominal,
            "channels": [
                {
                    "role": channel.role,
                    "unit": UNIT_OF_ROLE[channel.role],
                    "full_scale": channel.full_scale,
                }
                for channel in facts.channels
            ],
        }
    )
    contents = flac_bytes(samples, rate_hz, facts.calibration_id, comment)
    with records_errors(path):
        write_durably(path, contents, under_way)
    return hashlib.sha256(contents).hexdigest()
