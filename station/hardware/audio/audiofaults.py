"""Every way the audio device can fail, as two sentences an operator can act on."""

from __future__ import annotations

from station.errors import AudioError
from station.hardware.between.deviceinfo import DeviceInfo
from station.hardware.between.messages import Fault

# Codes of PortAudio's PaErrorCode, portaudio.h.
INVALID_CHANNEL_COUNT = -9998
INVALID_SAMPLE_RATE = -9997
DEVICE_UNAVAILABLE = -9985


def listing(devices: tuple[DeviceInfo, ...]) -> str:
    """Return devices in words, each as the station file would name it."""
    if not devices:
        return "none"
    return "; ".join(f'"{device.name}" ({device.host_api})' for device in devices)


def host_api_missing(host_api: str, devices: tuple[DeviceInfo, ...]) -> AudioError:
    """Say that the sound system in the station file has no devices."""
    return AudioError(
        f'The sound system "{host_api}" is not running or has no devices.',
        f"Start it, or change host_api in the station file (devices now: {listing(devices)}).",
    )


def device_missing(name: str, devices: tuple[DeviceInfo, ...]) -> AudioError:
    """Say that no device has the name in the station file."""
    return AudioError(
        f'There is no audio device "{name}".',
        "Check its cable and power, or change device in the station file "
        f"(devices now: {listing(devices)}).",
    )


def device_ambiguous(name: str, devices: tuple[DeviceInfo, ...]) -> AudioError:
    """Say that several devices fit the name in the station file."""
    return AudioError(
        f'The name "{name}" fits several audio devices: {listing(devices)}.',
        "Write the whole name as device in the station file, and its sound system as host_api.",
    )


def channels_missing(device: DeviceInfo, needed: int, what: str) -> AudioError:
    """Say that the device has fewer inputs or outputs than the station file numbers."""
    there = device.inputs if what == "input" else device.outputs
    return AudioError(
        f'The station file uses {what} {needed} of "{device.name}", which has {there}.',
        f"Correct the {what} numbers in the station file, or name another device.",
    )


def not_launched(error: OSError) -> AudioError:
    """Say that the audio child could not even be started as a process."""
    return AudioError(
        f"The audio system could not be started: {error.strerror}.",
        "Free memory and disk space, then repeat.",
    )


def not_started(fault: Fault) -> AudioError:
    """Say what the child could not load."""
    if fault.stage == "library":
        error = AudioError("PortAudio is not installed.", "Install it: apt install libportaudio2.")
    else:
        error = AudioError(
            "The Python package sounddevice is not installed.", "Install the station again."
        )
    error.add_note(fault.text)
    return error


def not_opened(fault: Fault, device: DeviceInfo, rate_hz: float) -> AudioError:
    """Say why the device refused to be opened."""
    name = device.name
    sentences = {
        INVALID_SAMPLE_RATE: (
            f'The audio device "{name}" does not run at {rate_hz:g} Hz.',
            f"Set rate_hz in the station file; it prefers {device.default_rate_hz:g} Hz.",
        ),
        INVALID_CHANNEL_COUNT: (
            f'The audio device "{name}" does not open with the channels of the station file.',
            "Correct the input and output numbers in the station file.",
        ),
        DEVICE_UNAVAILABLE: (
            f'Another program is using the audio device "{name}".',
            "Close that program, then repeat.",
        ),
    }
    otherwise = (
        f'The audio device "{name}" cannot be opened.',
        "Check its cable and power, restart its sound server if it has one, then repeat.",
    )
    error = AudioError(*sentences.get(fault.code, otherwise))
    error.add_note(fault.text)
    return error


def stopped_delivering() -> AudioError:
    """Say that no block came for longer than the station file allows."""
    return AudioError(
        "The audio device stopped delivering.",
        "Check its cable and power, restart its sound server if it has one, then repeat.",
    )


def wrong_rate(found_hz: float, wanted_hz: float) -> AudioError:
    """Say that the device runs at another rate than it was opened with."""
    return AudioError(
        f"The audio device runs at about {found_hz:.0f} Hz, not at {wanted_hz:g} Hz.",
        "Set the device and its clock source to the station file's rate_hz, then repeat.",
    )


def not_answering() -> AudioError:
    """Say that the audio system neither answers nor fails."""
    return AudioError(
        "The audio system does not answer.",
        "Check the audio device's cable and power, restart its sound server if it has one, "
        "then repeat.",
    )


def ended() -> AudioError:
    """Say that the audio child is gone, whatever ended it."""
    return AudioError(
        "The program part that runs the audio device ended unexpectedly.",
        "Repeat; if it happens again, restart the computer.",
    )


def callback_failed(fault: Fault) -> AudioError:
    """Say that the callback raised an exception, a fault of this program."""
    error = AudioError(
        "The program part that runs the audio device failed in mid-run.",
        "Repeat; if it happens again, report it with the log.",
    )
    error.add_note(fault.text)
    return error
