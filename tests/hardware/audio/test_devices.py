"""The station file's device is found by name, or it is said why not."""

from __future__ import annotations

import pytest

from station.errors import AudioError
from station.hardware.audio.devices import device_index, list_devices
from station.hardware.between.deviceinfo import DeviceInfo
from station.hardware.files.stationfile import AudioSettings

DEVICES = (
    DeviceInfo("HDMI 0", "ALSA", 0, 8, 48000.0),
    DeviceInfo("Bench: USB Audio (hw:1,0)", "ALSA", 4, 2, 96000.0),
    DeviceInfo("Desk: USB Audio (hw:2,0)", "ALSA", 2, 2, 48000.0),
    DeviceInfo("system", "JACK Audio Connection Kit", 4, 2, 96000.0),
    DeviceInfo("system", "OSS", 2, 2, 48000.0),
    DeviceInfo("system 2", "OSS", 2, 2, 48000.0),
)


def settings(device: str, host_api: str | None = None, output: int = 1) -> AudioSettings:
    return AudioSettings(
        device=device,
        host_api=host_api,
        rate_hz=96000.0,
        block_frames=1024,
        output=output,
        output_full_scale_v=20.0,
        silence_limit_s=2.0,
    )


@pytest.mark.parametrize(
    ("name", "host_api", "index"),
    [
        ("Bench: USB Audio (hw:1,0)", "ALSA", 1),
        ("Bench: USB Audio (hw:1,0)", None, 1),
        ("bench", None, 1),  # a part, in any case of letters
        ("system", "OSS", 4),  # the whole name goes before parts of others
        ("system", "JACK Audio Connection Kit", 3),
    ],
)
def test_a_device_is_found_by_its_name(name: str, host_api: str | None, index: int) -> None:
    assert device_index(DEVICES, settings(name, host_api), (1, 2)) == index


def test_a_missing_device_is_told_with_those_there_are() -> None:
    with pytest.raises(AudioError) as caught:
        device_index(DEVICES, settings("Rack", "OSS"), (1, 2))
    assert caught.value.happened == 'There is no audio device "Rack".'
    assert '"system" (OSS); "system 2" (OSS)' in caught.value.remedy
    assert "ALSA" not in caught.value.remedy


@pytest.mark.parametrize(("name", "host_api"), [("USB Audio", None), ("system", None)])
def test_a_name_that_fits_several_devices_is_refused(name: str, host_api: str | None) -> None:
    with pytest.raises(AudioError, match="fits several audio devices") as caught:
        device_index(DEVICES, settings(name, host_api), (1, 2))
    assert "host_api" in caught.value.remedy


def test_a_sound_system_that_is_not_there_is_told() -> None:
    with pytest.raises(AudioError, match='sound system "ASIO" is not running'):
        device_index(DEVICES, settings("system", "ASIO"), (1, 2))


def test_too_few_inputs_are_told() -> None:
    with pytest.raises(AudioError, match=r"uses input 5 of .*, which has 4"):
        device_index(DEVICES, settings("bench"), (1, 5))


def test_too_few_outputs_are_told() -> None:
    with pytest.raises(AudioError, match=r"uses output 3 of .*, which has 2"):
        device_index(DEVICES, settings("bench", output=3), (1, 2))


@pytest.mark.tools
@pytest.mark.usefixtures("portaudio")
def test_this_computers_devices_can_be_listed() -> None:
    assert all(device.inputs + device.outputs > 0 for device in list_devices())
