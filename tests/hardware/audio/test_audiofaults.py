"""PortAudio's codes become sentences an operator can act on."""

from __future__ import annotations

import pytest

from station.hardware.audio.audiofaults import not_opened, not_started
from station.hardware.between.deviceinfo import DeviceInfo
from station.hardware.between.messages import Fault

DEVICE = DeviceInfo("Bench", "ALSA", 4, 2, 48000.0)


# PaErrorCode in portaudio.h: paInvalidChannelCount -9998, paInvalidSampleRate -9997,
# paInsufficientMemory -9992, paDeviceUnavailable -9985, paUnanticipatedHostError -9999.
@pytest.mark.parametrize(
    ("code", "happened"),
    [
        (-9998, 'The audio device "Bench" does not open with the channels of the station file.'),
        (-9997, 'The audio device "Bench" does not run at 96000 Hz.'),
        (-9985, 'Another program is using the audio device "Bench".'),
        (-9992, 'The audio device "Bench" cannot be opened.'),
        (-9999, 'The audio device "Bench" cannot be opened.'),
    ],
)
def test_a_refused_device_is_told_in_a_sentence_with_the_librarys_words_as_note(
    code: int, happened: str
) -> None:
    error = not_opened(Fault("open", code, "the library's words"), DEVICE, 96000.0)
    assert error.happened == happened
    assert error.__notes__ == ["the library's words"]


def test_a_wrong_rate_is_told_with_the_rate_the_device_prefers() -> None:
    error = not_opened(Fault("open", -9997, ""), DEVICE, 96000.0)
    assert "it prefers 48000 Hz" in error.remedy


def test_a_missing_library_is_told_with_the_way_to_install_it() -> None:
    error = not_started(Fault("library", 0, "PortAudio library not found"))
    assert error.remedy == "Install it: apt install libportaudio2."
