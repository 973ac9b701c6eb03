"""What the audio system says about one device."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DeviceInfo:
    """One audio device of one host API, as it was when the audio system was started.

    `inputs` and `outputs` count channels; `default_rate_hz` is the rate the device prefers, with
    a sound server the only one it runs at.
    """

    name: str
    host_api: str
    inputs: int
    outputs: int
    default_rate_hz: float
