"""Which audio devices there are, and which of them the station file means."""

from __future__ import annotations

from station.hardware.audio import audiofaults
from station.hardware.audio.audiochild import START_LIMIT_S, AudioChild
from station.hardware.between.deviceinfo import DeviceInfo
from station.hardware.files.stationfile import AudioSettings


def list_devices(limit_s: float = START_LIMIT_S) -> tuple[DeviceInfo, ...]:
    """Return all audio devices as they are now; raise AudioError, at the latest after the limit."""
    child = AudioChild()
    try:
        return child.devices(limit_s)
    finally:
        child.end()


def device_index(
    devices: tuple[DeviceInfo, ...], settings: AudioSettings, inputs: tuple[int, ...]
) -> int:
    """Return the index of the one device that the settings mean; raise AudioError.

    The name fits if it is the whole name, or else, in any case of letters, a part of it: sound
    card numbers at the end of names change from start to start. Inputs and outputs must be on
    one device, because two devices have two clocks, which drift apart.
    """
    present = [
        index
        for index, device in enumerate(devices)
        if settings.host_api in (None, device.host_api)
    ]
    if settings.host_api is not None and not present:
        raise audiofaults.host_api_missing(settings.host_api, devices)
    wanted = settings.device.casefold()
    fitting = [index for index in present if devices[index].name == settings.device] or [
        index for index in present if wanted in devices[index].name.casefold()
    ]
    if not fitting:
        raise audiofaults.device_missing(settings.device, tuple(devices[i] for i in present))
    if len(fitting) > 1:
        raise audiofaults.device_ambiguous(settings.device, tuple(devices[i] for i in fitting))
    found = devices[fitting[0]]
    if found.inputs < max(inputs):
        raise audiofaults.channels_missing(found, max(inputs), "input")
    if found.outputs < settings.output:
        raise audiofaults.channels_missing(found, settings.output, "output")
    return fitting[0]
