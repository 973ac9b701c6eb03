"""The part of the log that keeps recordings, and what was done to them."""

from __future__ import annotations

from contextlib import AbstractContextManager
from datetime import datetime
from pathlib import Path

from station.analysis.arrays import FloatArray
from station.analysis.recording import Recording
from station.records.chains.upkeep import UpkeepEntry, append_upkeep, upkeep_entries
from station.records.database.connection import transaction
from station.records.files.durable import make_folder
from station.records.files.places import (
    CALIBRATIONS_NAME,
    FILE_NAME,
    RECORDINGS_NAME,
    UNFINISHED_NAME,
)
from station.records.files.troubles import records_errors
from station.records.kept.run import RecordingRef
from station.records.log.base import LogBase
from station.records.recordings.calibrationfile import CalibrationFacts, write_calibration_recording
from station.records.recordings.recording_file import sha256_of_file, write_recording
from station.records.recordings.retention import RetentionRule, recordings_under
from station.records.recordings.sidecar import RecordingFacts
from station.records.recordings.unfinished import Leftover, swept_up, swept_up_entry, writing_in


class RecordingLog(LogBase):
    """Recordings under the log, and the chain of what became of files; as safe to share."""

    def store_upkeep(self, *entries: UpkeepEntry) -> None:
        """Write what was done to the log's files; it is on the disk when this returns."""
        with self._alone() as connection, transaction(connection):
            for entry in entries:
                append_upkeep(connection, entry)

    def upkeep(self) -> tuple[UpkeepEntry, ...]:
        """Return what was done to the log's files, oldest first."""
        with self._alone() as connection:
            return tuple(upkeep_entries(connection))

    def recordings_under(self, rule: RetentionRule, now_utc: datetime) -> tuple[RecordingRef, ...]:
        """Return the recordings that a rule lets go and that are still kept, oldest first."""
        with self._alone() as connection:
            return tuple(recordings_under(connection, rule, now_utc))

    def store_calibration_recording(
        self, samples: FloatArray, rate_hz: float, facts: CalibrationFacts
    ) -> RecordingRef:
        """Write the recording of a calibration; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the calibration's id cannot name a file.
        RecordsError
            If it cannot be written; then nothing is left under its name.
        """
        name = f"{facts.calibration_id}.flac"
        if not FILE_NAME.fullmatch(name):
            raise ValueError(f"the id {facts.calibration_id!r} cannot name a file")
        folder = self._folder / CALIBRATIONS_NAME
        with records_errors(folder), self._under_way() as under_way:
            make_folder(folder)
            return RecordingRef(
                name,
                write_calibration_recording(folder / name, samples, rate_hz, facts, under_way),
            )

    def store_recording(self, recording: Recording, facts: RecordingFacts) -> RecordingRef:
        """Write the recording of a run, named after its id; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the run id is missing or no file name, or the recording could not be judged again.
        RecordsError
            If it cannot be written; then nothing is left under its name.
        """
        name = f"{facts.run_id}.flac"
        if facts.run_id is None or not FILE_NAME.fullmatch(name):
            raise ValueError(f"the run id {facts.run_id!r} cannot name a file")
        path = self._folder / RECORDINGS_NAME / name
        with records_errors(path), self._under_way() as under_way:
            return RecordingRef(name, write_recording(path, recording, facts, under_way))

    def sweep_up(self, now_utc: datetime) -> tuple[Leftover, ...]:
        """Delete files that a killed process had not finished; the log says which they were."""

        def account_for(found: tuple[Leftover, ...]) -> None:
            self.store_upkeep(*(swept_up_entry(left, now_utc) for left in found))

        folder = self._folder / UNFINISHED_NAME
        with records_errors(folder):
            return swept_up(folder, account_for)

    def _under_way(self) -> AbstractContextManager[Path]:
        """Hold the folder of files that are not finished yet."""
        return writing_in(self._folder / UNFINISHED_NAME)

    def path_of(self, ref: RecordingRef) -> Path:
        """Return where a recording is kept."""
        if not FILE_NAME.fullmatch(ref.name):
            raise ValueError(f"{ref.name!r} is not the name of a recording")
        return self._folder / RECORDINGS_NAME / ref.name

    def recording_unchanged(self, ref: RecordingRef) -> bool:
        """Return whether a recording is, byte for byte, the one that was stored.

        Raises
        ------
        RecordingFileError
            If it is missing or cannot be read.
        """
        return sha256_of_file(self.path_of(ref)) == ref.sha256
