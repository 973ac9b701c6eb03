"""Recordings as files: FLAC as the station writes it, FLAC or WAV as it reads them.

The title is the serial number, for people; the comment holds all facts (see `sidecar`). Samples
are 24-bit: what is judged must be what is stored, so the samples of a run pass `quantised` first.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray
from station.analysis.recording import Recording
from station.errors import RecordingFileError, RecordsError
from station.records.files.durable import write_durably
from station.records.files.troubles import records_errors
from station.records.recordings.sidecar import (
    FactsTable,
    RecordingFacts,
    comment_of,
    facts_in_comment,
)
from station.tomlfiles.loading import model_from_toml, text_of_file

CODES_PER_FULL_SCALE = 2.0**23  # 24-bit samples
LOWEST_CODE, HIGHEST_CODE = -(2.0**23), 2.0**23 - 1.0
UNUSED_BITS = 8  # libsndfile takes 24-bit samples in the upper part of 32 bits

CONTAINERS = ("FLAC", "WAV", "WAVEX", "RF64")
ENCODINGS = ("PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")  # lossless ones

AGAIN = "Take an undamaged copy, or record the unit again."


def quantised(samples: FloatArray) -> FloatArray:
    """Return samples as a 24-bit file keeps them.

    Rounded to the nearest code; beyond full scale the last code; what is not finite stays so.
    """
    return np.where(np.isfinite(samples), codes_of(samples) / CODES_PER_FULL_SCALE, samples)


def codes_of(samples: FloatArray) -> FloatArray:
    """Return the nearest 24-bit codes."""
    codes = np.clip(np.rint(samples * CODES_PER_FULL_SCALE), LOWEST_CODE, HIGHEST_CODE)
    return codes + 0.0  # rounding up to zero gives -0.0, which no file keeps


def flac_of(recording: Recording, facts: RecordingFacts) -> bytes:
    """Return a recording as the bytes of its FLAC file.

    Raises
    ------
    ValueError
        If the recording is shorter than its sweep or its rate is not a whole number of Hz:
        it could not be judged again.
    RecordsError
        If FLAC cannot hold it.
    """
    if recording.n_samples < recording.sweep.n_samples:
        raise ValueError(f"{recording.n_samples} samples cannot hold {recording.sweep}")
    if not float(recording.rate_hz).is_integer():
        raise ValueError(f"{recording.rate_hz} Hz is not a whole number")
    return flac_bytes(
        recording.all_samples, recording.rate_hz, facts.serial or "", comment_of(recording, facts)
    )


def flac_bytes(samples: FloatArray, rate_hz: float, title: str, comment: str) -> bytes:
    """Return samples of shape (n_channels, n) as a FLAC file; raise RecordsError if it cannot."""
    codes = codes_of(samples).astype(np.int32) << UNUSED_BITS
    memory = io.BytesIO()
    try:
        with soundfile.SoundFile(
            memory, "w", int(rate_hz), len(codes), "PCM_24", format="FLAC"
        ) as file:
            if title:  # libsndfile refuses an empty one
                file.title = title
            file.comment = comment
            file.write(np.ascontiguousarray(codes.T))
    except soundfile.LibsndfileError as error:
        raise RecordsError(
            f"A recording of {len(codes)} channels at {rate_hz:.0f} Hz cannot be kept.",
            "Set another sampling rate in the limit file, or fewer inputs in the station file.",
        ) from error
    return memory.getvalue()


def write_recording(
    path: Path, recording: Recording, facts: RecordingFacts, under_way: Path | None = None
) -> str:
    """Write a new recording, safe on the disk when this returns; return its SHA-256 as hex.

    `under_way` is the folder it is written in until it is whole; without it, its own.

    Raises
    ------
    ValueError
        As `flac_of`.
    RecordsError
        If it cannot be written; then nothing is left under its name.
    """
    contents = flac_of(recording, facts)
    with records_errors(path):
        write_durably(path, contents, under_way)
    return hashlib.sha256(contents).hexdigest()


def sha256_of_file(path: Path) -> str:
    """Return the SHA-256 of a file as hex; raise RecordingFileError if it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise unreadable(path, error) from error


def read_recording(path: Path) -> tuple[Recording, RecordingFacts]:
    """Return a FLAC or WAV recording and whose it is.

    Raises
    ------
    RecordingFileError
        If it is missing, no audio, damaged, without its facts, or does not fit them.
    TextFileError
        If the TOML file beside it has faults, each at file:line.
    """
    samples, rate_hz, comment = audio_of(path)
    table = facts_for(path, comment)
    check_fit(path, table, samples, rate_hz)
    recording = Recording.from_raw(
        samples,
        table.file_channels(),
        table.sweep.sweep(),
        table.distance_m,
        table.device_flags,
        table.response(),
    )
    if table.invalid_samples:
        now = recording.invalid_samples or (0,) * len(samples)
        counts = tuple(a + b for a, b in zip(now, table.invalid_samples, strict=True))
        recording = replace(recording, invalid_samples=counts)
    return recording.cut_into(table.step_sweeps()), table.facts()


def audio_of(path: Path) -> tuple[FloatArray, int, str]:
    """Return samples of shape (n_channels, n), the rate in Hz and the comment of an audio file."""
    try:
        with path.open("rb") as file:
            magic = file.read(4)
    except OSError as error:
        raise unreadable(path, error) from error
    try:
        with soundfile.SoundFile(str(path)) as audio:
            if audio.format not in CONTAINERS or audio.subtype not in ENCODINGS:
                raise RecordingFileError(
                    f"{path} is {audio.format} {audio.subtype}, which is not kept exactly.",
                    "Use FLAC, or WAV with PCM or float samples.",
                )
            frames: NDArray[np.float64] = audio.read(dtype="float64", always_2d=True)
            claimed, rate_hz, comment = audio.frames, audio.samplerate, audio.comment
    except soundfile.LibsndfileError as error:
        if magic not in (b"fLaC", b"RIFF", b"RF64"):
            raise RecordingFileError(
                f"{path} is not a FLAC or WAV file.", "Check that it is the right file."
            ) from error
        raise RecordingFileError(f"{path} is damaged or cut short.", AGAIN) from error
    except MemoryError as error:  # a damaged head can promise more samples than memory holds
        raise RecordingFileError(f"{path} promises more samples than fit.", AGAIN) from error
    if len(frames) != claimed:
        raise RecordingFileError(f"{path} is cut short.", AGAIN)
    return np.ascontiguousarray(frames.T), int(rate_hz), str(comment)


def facts_for(path: Path, comment: str) -> FactsTable:
    """Return the facts inside or beside a recording; refuse none and both."""
    beside = path.with_suffix(".toml")
    inside = facts_in_comment(comment, path)
    if not beside.exists():
        if inside is None:
            raise RecordingFileError(
                f"{path} carries no facts in its comment and there is no {beside.name} beside it.",
                f"Write {beside.name} with channels, scale factors and sweep.",
            )
        return inside
    if inside is not None:
        raise RecordingFileError(
            f"{path} has its facts twice, in its comment and in {beside.name}.",
            f"Move {beside.name} away, or take the comment out of the recording.",
        )
    return model_from_toml(text_of_file(beside), str(beside), FactsTable)


def check_fit(path: Path, table: FactsTable, samples: FloatArray, rate_hz: int) -> None:
    """Refuse samples that are not what the facts say."""
    needed = sum(sweep.n_samples for sweep in (table.sweep.sweep(), *table.step_sweeps()))
    if rate_hz != table.sweep.rate_hz:
        raise RecordingFileError(
            f"{path} is sampled at {rate_hz} Hz, but its facts say {table.sweep.rate_hz:g} Hz.",
            "Correct rate_hz in the facts, or take the recording they belong to.",
        )
    if len(samples) != len(table.channels):
        raise RecordingFileError(
            f"{path} has {len(samples)} channels, but its facts describe {len(table.channels)}.",
            "Describe every channel of the file, or take the recording the facts belong to.",
        )
    if samples.shape[1] < needed:
        raise RecordingFileError(
            f"{path} has {samples.shape[1]} samples, but its sweeps need {needed}.",
            "Take the whole recording, or correct the sweeps in the facts.",
        )


def unreadable(path: Path, error: OSError) -> RecordingFileError:
    """Return the refusal of a file that cannot be opened or read."""
    if isinstance(error, FileNotFoundError):
        return RecordingFileError(f"There is no recording {path}.", "Check the path.")
    return RecordingFileError(
        f"{path} cannot be read: {error.strerror}.", "Check the file and its permissions."
    )
