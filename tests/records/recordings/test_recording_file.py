"""What is written is what is read, and what cannot be trusted is refused in one sentence."""

from __future__ import annotations

import errno
import hashlib
import os
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from station.analysis.signals.microphoneresponse import MicrophoneResponse
from station.analysis.signals.sweep import Sweep
from station.errors import RecordingFileError, RecordsError
from station.records.files import durable
from station.records.recordings.recording_file import (
    quantised,
    read_recording,
    sha256_of_file,
    write_recording,
)
from station.records.recordings.sidecar import RecordingFacts, SweepTable
from tests.records.example import FACTS, SWEEP, example_recording
from tests.records.same import same


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return where the test's recording goes."""
    return tmp_path / "run.flac"


def test_a_recording_comes_back_bit_for_bit(path: Path) -> None:
    recording = example_recording(device_flags=("input overflow",), invalid_samples=(0, 3, 0, 0))
    write_recording(path, recording, FACTS)
    read, facts = read_recording(path)
    assert same(read, recording)
    assert facts == FACTS


def test_the_response_of_the_microphone_comes_back_bit_for_bit(path: Path) -> None:
    rng = np.random.default_rng(11)
    response = MicrophoneResponse(
        np.cumsum(rng.uniform(0.1, 300.0, 200)), rng.normal(0.0, 2.0, 200), rng.normal(0, 90, 200)
    )
    recording = example_recording(microphone_response=response)
    write_recording(path, recording, FACTS)
    assert same(read_recording(path)[0], recording)


def test_every_parameter_of_the_sweep_is_kept() -> None:
    assert list(SweepTable.model_fields) == [field.name for field in fields(Sweep)]


def test_title_and_hash_are_what_other_programs_see(path: Path) -> None:
    facts = replace(FACTS, serial="Größe–Ω 12")
    sha256 = write_recording(path, example_recording(), facts)
    with soundfile.SoundFile(str(path)) as file:
        assert (file.format, file.subtype, file.title) == ("FLAC", "PCM_24", "Größe–Ω 12")
        assert file.comment.isascii()
    assert sha256 == hashlib.sha256(path.read_bytes()).hexdigest() == sha256_of_file(path)
    assert read_recording(path)[1] == facts


def test_facts_that_nobody_knows_stay_unknown(path: Path) -> None:
    write_recording(path, example_recording(), RecordingFacts())
    assert read_recording(path)[1] == RecordingFacts()


def test_a_local_time_is_read_as_utc(path: Path) -> None:
    noon = datetime(2026, 6, 1, 12, 0, tzinfo=timezone(timedelta(hours=2)))
    write_recording(path, example_recording(), replace(FACTS, started_utc=noon))
    started_utc = read_recording(path)[1].started_utc
    assert started_utc == noon
    assert started_utc is not None
    assert started_utc.tzinfo is UTC


def test_quantised_samples_sit_on_the_24_bit_grid_and_clip_at_its_ends() -> None:
    step = 2.0**-23
    samples = np.array([[0.0, 0.4 * step, 0.6 * step, 1.0, 1.7, -1.0, -1.7]])
    expected = np.array([[0.0, 0.0, step, 1.0 - step, 1.0 - step, -1.0, -1.0]])
    assert quantised(samples).tolist() == expected.tolist()


def test_quantising_hides_no_invalid_sample() -> None:
    samples = np.array([[np.nan, np.inf, -np.inf, 0.5]])
    assert np.array_equal(quantised(samples), samples, equal_nan=True)


@settings(max_examples=25, deadline=None)
@given(samples=arrays(np.float64, (4, 40), elements=st.floats(-1.5, 1.5)))
def test_quantised_samples_are_what_the_file_gives_back(
    tmp_path_factory: pytest.TempPathFactory, samples: np.ndarray
) -> None:
    recording = example_recording()
    values = recording.samples.copy()
    values[:, 100:140] = samples
    judged = replace(recording, samples=quantised(values))
    path = tmp_path_factory.mktemp("quantised") / "run.flac"
    write_recording(path, judged, FACTS)
    assert same(read_recording(path)[0], judged)


def test_an_unquantised_recording_is_stored_quantised(path: Path) -> None:
    samples = np.random.default_rng(4).uniform(-1.2, 1.2, (4, SWEEP.n_samples))
    write_recording(path, example_recording(samples=samples), FACTS)
    assert same(read_recording(path)[0].samples, quantised(samples))


def test_a_recording_that_could_not_be_judged_again_is_a_mistake_of_the_caller(path: Path) -> None:
    short = example_recording(samples=np.zeros((4, SWEEP.n_samples - 1)))
    odd = example_recording(sweep=replace(SWEEP, rate_hz=48000.5))
    for recording in (short, odd):
        with pytest.raises(ValueError, match=r"samples cannot hold|whole number"):
            write_recording(path, recording, FACTS)
    assert not path.exists()


def test_a_rate_flac_cannot_hold_is_told_as_a_setting(path: Path) -> None:
    sweep = replace(SWEEP, rate_hz=2_000_000.0)
    recording = example_recording(samples=np.zeros((4, sweep.n_samples)), sweep=sweep)
    with pytest.raises(RecordsError, match="sampling rate"):
        write_recording(path, recording, FACTS)


def test_a_recording_is_never_overwritten(path: Path) -> None:
    write_recording(path, example_recording(), FACTS)
    before = path.read_bytes()
    with pytest.raises(RecordsError, match="never overwritten"):
        write_recording(path, example_recording(distance_m=1.0), FACTS)
    assert path.read_bytes() == before


def test_the_disk_has_the_file_before_its_name_and_the_name_before_success(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps: list[str] = []
    fsync, rename = os.fsync, Path.rename

    def told_fsync(handle: int) -> None:
        target = Path(f"/proc/self/fd/{handle}").readlink()
        steps.append(f"fsync {target.name}")
        fsync(handle)

    def told_rename(source: Path, target: Path) -> Path:
        steps.append(f"rename to {target.name}")
        return rename(source, target)

    monkeypatch.setattr(durable.os, "fsync", told_fsync)
    monkeypatch.setattr(Path, "rename", told_rename)
    write_recording(path, example_recording(), FACTS)
    assert steps == [
        "fsync .run.flac.partial",
        "rename to run.flac",
        f"fsync {path.parent.name}",
    ]


def test_a_full_disk_leaves_no_half_a_recording(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(durable.os, "fsync", full)
    with pytest.raises(RecordsError, match=r"disk is full.*Free some space"):
        write_recording(path, example_recording(), FACTS)
    assert list(path.parent.iterdir()) == []


def refusal(path: Path) -> str:
    """Return the sentence with which a recording is refused."""
    with pytest.raises(RecordingFileError) as caught:
        read_recording(path)
    assert caught.value.happened.endswith(".")
    assert caught.value.remedy.endswith(".")
    return caught.value.happened


def test_a_missing_recording_is_named(path: Path) -> None:
    assert refusal(path) == f"There is no recording {path}."
    with pytest.raises(RecordingFileError, match="There is no recording"):
        sha256_of_file(path)


def test_a_folder_is_no_recording(tmp_path: Path) -> None:
    assert "cannot be read" in refusal(tmp_path)


def test_text_and_an_empty_file_are_no_audio(path: Path) -> None:
    for contents in (b"", b"Frequency,Level\n20,80\n" * 40):
        path.write_bytes(contents)
        assert "not a FLAC or WAV file" in refusal(path)


def test_lossy_or_unknown_formats_are_refused(tmp_path: Path) -> None:
    samples = np.zeros((100, 2))
    soundfile.write(tmp_path / "a.ogg", samples, 48000)
    soundfile.write(tmp_path / "b.wav", samples, 48000, "ULAW")
    soundfile.write(tmp_path / "c.aiff", samples, 48000, "PCM_24")
    assert "OGG VORBIS" in refusal(tmp_path / "a.ogg")
    assert "WAV ULAW" in refusal(tmp_path / "b.wav")
    assert "AIFF PCM_24" in refusal(tmp_path / "c.aiff")


@pytest.mark.parametrize("kept_ratio", [0.02, 0.3, 0.9, 0.9999])
def test_a_flac_cut_short_is_refused(path: Path, kept_ratio: float) -> None:
    write_recording(path, example_recording(), FACTS)
    contents = path.read_bytes()
    path.write_bytes(contents[: int(kept_ratio * len(contents))])
    assert "damaged or cut short" in refusal(path)


def test_no_flipped_bit_goes_unseen(path: Path) -> None:
    recording = example_recording()
    write_recording(path, recording, FACTS)
    contents = path.read_bytes()
    random = np.random.default_rng(11)
    refused = 0
    for position in random.integers(len(contents) // 20, len(contents), 120):
        damaged = bytearray(contents)
        damaged[position] ^= 1 << int(random.integers(8))
        path.write_bytes(damaged)
        try:
            read, _ = read_recording(path)
        except RecordingFileError:
            refused += 1
        else:
            assert same(read.samples, recording.samples)
    assert refused > 100  # a bit in padding or in a frame number may change nothing


def test_a_recording_without_facts_says_which_file_to_write(tmp_path: Path) -> None:
    path = tmp_path / "bench.wav"
    soundfile.write(path, np.zeros((100, 2)), 48000, "PCM_24")
    assert "no bench.toml beside it" in refusal(path)


def with_comment(path: Path, comment: str, *, rate_hz: int = 48000, n_channels: int = 4) -> None:
    """Write a recording whose comment is free."""
    samples = np.zeros((SWEEP.n_samples, n_channels))
    with soundfile.SoundFile(str(path), "w", rate_hz, n_channels, "PCM_24", format="FLAC") as file:
        file.comment = comment
        file.write(samples)


@pytest.fixture
def comment(tmp_path: Path) -> str:
    """Return a comment as the station writes it."""
    whole = tmp_path / "whole.flac"
    write_recording(whole, example_recording(), FACTS)
    with soundfile.SoundFile(str(whole)) as file:
        return str(file.comment)


@pytest.mark.parametrize("remark", ["take 3, door open", "{", '{"take": 3}', "[1, 2]", "[" * 9999])
def test_somebody_elses_comment_is_no_facts(path: Path, remark: str) -> None:
    with_comment(path, remark)
    assert "carries no facts" in refusal(path)


def test_a_comment_cut_short_is_no_facts(path: Path, comment: str) -> None:
    with_comment(path, comment[:-10])
    assert "carries no facts" in refusal(path)


def test_a_newer_format_is_told_from_a_wrong_one(path: Path, comment: str) -> None:
    with_comment(path, comment.replace('"format": 1', '"format": 2'))
    assert "newer version of this software (format 2)" in refusal(path)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"role": "voltage"', '"role": "volts"', "channels.1.role"),
        ('"role": "ambient"', '"role": "microphone"', "a role is used twice"),
        ('"unit": "V"', '"unit": "mV"', "voltage is recorded in V, not in mV"),
        ('"full_scale": 40.0', '"full_scale": NaN', "channels.1.full_scale"),
        ('"channel": 2', '"channel": 5', "4 channels must be numbered 1 to 4"),
        ('"stop_hz": 20000.0', '"stop_hz": 24000.0', "must stay below half"),
        ('"distance_m": 0.5', '"distance_m": -0.5', "distance_m"),
        ('"distance_m": 0.5, ', "", "distance_m"),
        ('"invalid_samples": []', '"invalid_samples": [1, 2]', "2 counts do not fit 4 channels"),
        ('"model"', '"modell"', "modell"),
        ("2026-01-03T08:15:00.123456Z", "2026-01-03T08:15:00", "started_utc"),
    ],
)
def test_wrong_facts_are_told_one_by_one(
    path: Path, comment: str, old: str, new: str, told: str
) -> None:
    assert old in comment
    with_comment(path, comment.replace(old, new))
    assert told in refusal(path)


def test_facts_that_do_not_fit_the_samples_are_refused(path: Path, comment: str) -> None:
    with_comment(path, comment, rate_hz=44100)
    assert "44100 Hz, but its facts say 48000 Hz" in refusal(path)
    with_comment(path, comment, n_channels=3)
    assert "3 channels, but its facts describe 4" in refusal(path)
    with_comment(path, comment.replace('"lead_in_s": 0.01', '"lead_in_s": 0.5'))
    assert "but its sweeps need" in refusal(path)


def test_a_head_that_promises_too_much_is_refused(path: Path) -> None:
    write_recording(path, example_recording(), FACTS)
    contents = bytearray(path.read_bytes())
    # STREAMINFO: 4 bytes magic, 4 of block header, then the sample count in the low 36 bits
    # of bytes 18 to 25 (RFC 9639, section 8.2).
    contents[21] |= 0x0F
    contents[22:26] = b"\xff\xff\xff\xff"
    path.write_bytes(contents)
    assert refusal(path)


def test_an_unreadable_file_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def forbidden(self: Path, mode: str) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    write_recording(path, example_recording(), FACTS)
    monkeypatch.setattr(Path, "open", forbidden)
    assert "cannot be read: Permission denied" in refusal(path)
