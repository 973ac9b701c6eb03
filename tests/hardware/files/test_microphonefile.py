"""A correction file is taken whole or refused with every fault at its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.errors import TextFileError
from station.hardware.files.microphonefile import MicrophoneCorrection, microphone_correction


def file_of(folder: Path, text: str) -> Path:
    path = folder / "microphone.txt"
    path.write_text(text, encoding="utf-8")
    return path


def refusal(folder: Path, text: str) -> tuple[str, ...]:
    path = file_of(folder, text)
    with pytest.raises(TextFileError) as caught:
        microphone_correction(path)
    return tuple(fault.removeprefix(f"{path}:") for fault in caught.value.faults)


@pytest.mark.parametrize(
    "text",
    [
        "# from the certificate\n20 0.1\n1000 0\n\n20000 -1.5e0\n",
        "* Hz dB\n20\t0.1\n1000\t0.0\n20000\t-1.5\n",
        "20, 0.1\n  1000 , 0\n20000,-1.5",
        "20 0.1\r\n1000 0\r\n20000 -1.5\r\n",
    ],
    ids=["spaces", "tabs", "commas", "carriage returns"],
)
def test_a_level_at_each_frequency_is_read_however_it_is_laid_out(
    tmp_path: Path, text: str
) -> None:
    assert microphone_correction(file_of(tmp_path, text)) == MicrophoneCorrection(
        (20.0, 1000.0, 20000.0), (0.1, 0.0, -1.5), (0.0, 0.0, 0.0)
    )


def test_a_third_column_is_the_phase(tmp_path: Path) -> None:
    found = microphone_correction(file_of(tmp_path, "20 0.1 12\n1000 0 -3.5\n"))
    assert found.phase_deg == (12.0, -3.5)


def test_every_fault_is_told_at_its_line(tmp_path: Path) -> None:
    text = "# ours\n20 0.1\n20,5 0,1\nforty 0\n15 0\n100 nan\n200 0 1\n300\n-4 0\n"
    assert [fault.split(":")[0] for fault in refusal(tmp_path, text)] == list("3456789")
    told = refusal(tmp_path, text)
    assert "here '20,5 0,1'" in told[0]
    assert "15 Hz does not rise above 20 Hz" in told[2]
    assert "some lines have a phase" in told[4]
    assert "not above zero" in told[6]


def test_a_file_of_remarks_alone_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path, "# nothing\n\n") == (
        "1: there is no line with a frequency and a level",
    )


def test_a_missing_file_is_told_by_its_path(tmp_path: Path) -> None:
    with pytest.raises(TextFileError, match=r"There is no file .*none\.txt"):
        microphone_correction(tmp_path / "none.txt")
