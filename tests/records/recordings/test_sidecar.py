"""A recording made elsewhere is judged like our own, with its facts in a TOML file beside it."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile

import station.records.recordings.sidecar
from station.analysis.recording import Channel
from station.errors import RecordingFileError, TextFileError
from station.records.recordings.recording_file import quantised, read_recording, write_recording
from station.records.recordings.sidecar import RecordingFacts
from tests.records.example import FACTS, SWEEP, example_recording
from tests.records.same import same

SIDECAR = """\
format = 1
distance_m = 0.5

[sweep]
start_hz = 100.0
faded_in_hz = 150.0
stop_hz = 20000.0
duration_s = 0.05
level_v = 2.83
lead_in_s = 0.01
tail_s = 0.01
rate_hz = 48000.0

[[channels]]
channel = 2
role = "microphone"
unit = "Pa"
full_scale = 20.0

[[channels]]
channel = 1
role = "voltage"
unit = "V"
full_scale = 40.0
"""

SAMPLES = np.random.default_rng(7).uniform(-0.9, 0.9, (2, SWEEP.n_samples))


@pytest.fixture
def wav(tmp_path: Path) -> Path:
    """Return a WAV file with the facts beside it."""
    path = tmp_path / "bench.wav"
    soundfile.write(path, SAMPLES.T, 48000, "DOUBLE")
    path.with_suffix(".toml").write_text(SIDECAR)
    return path


def test_channels_are_found_by_their_number(wav: Path) -> None:
    recording, facts = read_recording(wav)
    assert recording.channels == (Channel("voltage", 40.0), Channel("microphone", 20.0))
    assert same(recording.samples, SAMPLES)
    assert recording.sweep == SWEEP
    assert facts == RecordingFacts()


def test_the_example_in_the_documentation_is_a_sidecar(tmp_path: Path) -> None:
    text = station.records.recordings.sidecar.__doc__ or ""
    example = "\n".join(line[4:] for line in text.splitlines() if line.startswith("    "))
    path = tmp_path / "name.flac"
    # 96 kHz: lead-in 0.2 s, sweep of about 2 s, tail 0.3 s, and one step; one channel
    soundfile.write(path, np.zeros(4 * 96000), 96000, "PCM_16")
    path.with_suffix(".toml").write_text(example)
    recording, facts = read_recording(path)
    assert recording.channels == (Channel("microphone", 63.2),)
    assert facts == RecordingFacts(
        "TARN2-000123",
        "Tarn 2",
        "A",
        "20260103T081500-7",
        datetime(2026, 1, 3, 8, 15, tzinfo=UTC),
        "line 1",
    )
    assert recording.microphone_response is not None
    assert recording.microphone_response.level_db.tolist() == [0.1, 0.0, -1.5]


@pytest.mark.parametrize(
    ("subtype", "largest_error"),
    # half a step of rounding, or a whole one of truncation; float keeps 24 bits of the value
    [
        ("PCM_U8", 2**-7),
        ("PCM_16", 2**-15),
        ("PCM_24", 2**-23),
        ("PCM_32", 2**-31),
        ("FLOAT", 2e-7),
    ],
)
def test_every_pcm_and_float_width_is_read(wav: Path, subtype: str, largest_error: float) -> None:
    soundfile.write(wav, SAMPLES.T, 48000, subtype)
    recording, _ = read_recording(wav)
    assert np.max(np.abs(recording.samples - SAMPLES)) <= largest_error


def test_samples_that_are_no_numbers_are_counted_in_their_channel(wav: Path) -> None:
    samples = SAMPLES.copy()
    samples[0, 10] = np.nan
    samples[1, 20:23] = (np.inf, -np.inf, np.nan)
    soundfile.write(wav, samples.T, 48000, "FLOAT")
    assert read_recording(wav)[0].invalid_samples == (1, 3)
    told = SIDECAR.replace("[sweep]", "invalid_samples = [0, 5]\n[sweep]")
    wav.with_suffix(".toml").write_text(told)
    assert read_recording(wav)[0].invalid_samples == (1, 8)


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("level_v = 2.83", "level = 2.83", "{name}:9: sweep.level: Extra inputs"),
        ("level_v = 2.83", "level_v = nan", "{name}:9: sweep.level_v"),
        ("format = 1", "format = 2", "{name}:1: format: Input should be 1"),
        (
            '"voltage"\nunit = "V"',
            '"microphone"\nunit = "Pa"',
            "{name}:14: channels: a role is used",
        ),
        ('unit = "V"', 'unit = "A"', "{name}:23: channels.1.unit: voltage is recorded in V"),
        ("stop_hz = 20000.0", "stop_hz = 50.0", "{name}:4: sweep: need 0 < start_hz"),
        ("[sweep]", "[sweep", "{name}:4: not valid TOML"),
        (
            "[sweep]",
            "[microphone_response]\nfrequency_hz = [20.0, 10.0]\nlevel_db = [0.0, 1.0]\n"
            "phase_deg = [0.0, 0.0]\n[sweep]",
            "{name}:4: microphone_response: need rising frequencies",
        ),
        (
            "[sweep]",
            "[microphone_response]\nfrequency_hz = [20.0]\nlevel_db = [0.0, 1.0]\n"
            "phase_deg = [0.0]\n[sweep]",
            "{name}:4: microphone_response: need three shapes",
        ),
    ],
)
def test_a_fault_in_the_sidecar_is_told_with_its_line(
    wav: Path, old: str, new: str, fault: str
) -> None:
    beside = wav.with_suffix(".toml")
    beside.write_text(SIDECAR.replace(old, new))
    with pytest.raises(TextFileError) as caught:
        read_recording(wav)
    assert any(line.startswith(fault.format(name=beside)) for line in caught.value.faults), (
        caught.value.faults
    )


def test_all_faults_of_a_sidecar_are_told_at_once(wav: Path) -> None:
    text = SIDECAR.replace("distance_m = 0.5", "distance_m = 0").replace("= 20.0", "= -20.0")
    wav.with_suffix(".toml").write_text(text)
    with pytest.raises(TextFileError) as caught:
        read_recording(wav)
    assert len(caught.value.faults) == 2


def test_facts_told_twice_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "run.flac"
    write_recording(path, example_recording(), FACTS)
    path.with_suffix(".toml").write_text(SIDECAR)
    with pytest.raises(RecordingFileError, match="facts twice"):
        read_recording(path)


def test_somebody_elses_comment_does_not_hinder_the_sidecar(tmp_path: Path, wav: Path) -> None:
    with soundfile.SoundFile(str(wav), "w", 48000, 2, "PCM_24") as file:
        file.comment = "take 3"
        file.write(SAMPLES.T)
    assert read_recording(wav)[0].sweep == SWEEP


def test_a_wav_cut_short_is_refused(wav: Path) -> None:
    contents = wav.read_bytes()
    wav.write_bytes(contents[: len(contents) // 2])
    with pytest.raises(RecordingFileError, match="its sweeps need"):
        read_recording(wav)


@pytest.mark.tools
def test_wav_files_of_another_program_are_read(tmp_path: Path, tool: Callable[[str], str]) -> None:
    source = tmp_path / "source.flac"
    recording = example_recording()
    write_recording(source, recording, FACTS)
    for options in (["-b", "24"], ["-b", "32"], ["-e", "floating-point", "-b", "32"]):
        path = tmp_path / "other.wav"
        command = [tool("sox"), "-D", source, "--comment", "", *options, path]
        subprocess.run(command, check=True, capture_output=True)
        path.with_suffix(".toml").write_text(
            SIDECAR.partition("[[channels]]")[0]
            + "".join(
                f'[[channels]]\nchannel = {number}\nrole = "{channel.role}"\nunit = "{unit}"\n'
                f"full_scale = {channel.full_scale}\n"
                for number, (channel, unit) in enumerate(
                    zip(recording.channels, ("Pa", "V", "A", "Pa"), strict=True), start=1
                )
            )
        )
        assert same(read_recording(path)[0], recording), options


@pytest.mark.tools
def test_a_file_in_sixteen_bits_made_from_nothing_is_read(
    wav: Path, tool: Callable[[str], str]
) -> None:
    length = f"{SWEEP.n_samples}s"
    command = [tool("sox"), "-D", "-r", "48000", "-n", "-b", "16", wav]
    command += ["synth", length, "sine", "1000", "sine", "2000", "vol", "0.5"]
    subprocess.run(command, check=True, capture_output=True)
    recording, _ = read_recording(wav)
    time_s = np.arange(SWEEP.n_samples) / 48000.0
    for row, frequency_hz in enumerate((1000.0, 2000.0)):
        expected = 0.5 * np.sin(2.0 * np.pi * frequency_hz * time_s)
        assert np.max(np.abs(recording.samples[row] - expected)) <= 2.0**-14  # two 16-bit steps


@pytest.mark.tools
def test_our_flac_survives_another_program_with_its_facts(
    tmp_path: Path, tool: Callable[[str], str]
) -> None:
    source, copy = tmp_path / "source.flac", tmp_path / "copy.flac"
    recording = example_recording()
    write_recording(source, recording, replace(FACTS, serial="Größe 12"))
    subprocess.run([tool("sox"), "-D", source, copy], check=True, capture_output=True)
    read, facts = read_recording(copy)
    assert same(read, recording)
    assert facts.serial == "Größe 12"


def test_quantised_values_of_a_float_file_are_left_alone(wav: Path) -> None:
    soundfile.write(wav, 1.5 * SAMPLES.T, 48000, "DOUBLE")
    read = read_recording(wav)[0].samples
    assert same(read, 1.5 * SAMPLES)
    assert not same(read, quantised(read))
