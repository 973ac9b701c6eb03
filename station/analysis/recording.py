"""A recording as the analysis sees it: samples by channel role, with their scale factors."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from station.analysis.arrays import FloatArray, read_only
from station.analysis.signals.microphoneresponse import MicrophoneResponse
from station.analysis.signals.sweep import Sweep

Role = Literal["microphone", "voltage", "current", "ambient", "rear"]
UNIT_OF_ROLE: dict[Role, str] = {
    "microphone": "Pa",
    "voltage": "V",
    "current": "A",
    "ambient": "Pa",
    "rear": "Pa",
}


@dataclass(frozen=True, slots=True)
class Channel:
    """One input: what it hears and what full scale means.

    `full_scale` is the instantaneous value, in the role's unit (Pa, V or A), at sample value 1.0.
    """

    role: Role
    full_scale: float


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """All channels of one run, with all that is needed to judge them again.

    Parameters
    ----------
    samples : ndarray, shape (n_channels, n)
        Sample values relative to full scale, within -1 to 1. Values that were not finite when
        the samples arrived must already be zero here and counted in `invalid_samples`.
    channels : tuple of Channel
        Role and full scale of each row of `samples`; no role twice.
    sweep : Sweep
        The stimulus that was played.
    distance_m : float
        From the unit's front to the microphone.
    device_flags : tuple of str
        What the audio driver reported, for example "input overflow".
    invalid_samples : tuple of int
        Per channel, how many samples were not finite; empty means none in any channel.
    microphone_response : MicrophoneResponse, optional
        How the microphone departs from the ideal; the samples are as it gave them, and the
        spectra take it out. None: taken as ideal.
    steps : tuple of Recording
        What followed the sweep in one piece: further sweeps at other levels.

    Raises
    ------
    ValueError
        If shapes and channels disagree, a role is doubled, or a sample is not finite.
    """

    samples: FloatArray
    channels: tuple[Channel, ...]
    sweep: Sweep
    distance_m: float
    device_flags: tuple[str, ...] = ()
    invalid_samples: tuple[int, ...] = field(default=())
    microphone_response: MicrophoneResponse | None = None
    steps: tuple[Recording, ...] = ()

    def __post_init__(self) -> None:
        if self.samples.ndim != 2 or self.samples.shape[0] != len(self.channels):
            raise ValueError(
                f"need shape ({len(self.channels)}, n) for {len(self.channels)} channels; "
                f"got {self.samples.shape}"
            )
        if len(set(self.roles)) != len(self.channels):
            raise ValueError(f"a role is doubled in {self.roles}")
        if not np.isfinite(self.samples).all():
            raise ValueError("samples must be finite; use from_raw for samples that may not be")
        object.__setattr__(self, "samples", read_only(self.samples))

    @classmethod
    def from_raw(
        cls,
        samples: FloatArray,
        channels: tuple[Channel, ...],
        sweep: Sweep,
        distance_m: float,
        device_flags: tuple[str, ...] = (),
        microphone_response: MicrophoneResponse | None = None,
    ) -> Recording:
        """Zero and count what is not finite, so that a NaN voids the run and breaks nothing."""
        finite = np.isfinite(samples)
        invalid = tuple(int(n) for n in np.count_nonzero(~finite, axis=1))
        return cls(
            np.where(finite, samples, 0.0),
            channels,
            sweep,
            distance_m,
            device_flags,
            invalid if any(invalid) else (),
            microphone_response,
        )

    def cut_into(self, steps: tuple[Sweep, ...]) -> Recording:
        """Return a recording of several sweeps with those after the first as its steps."""
        if not steps:
            return self
        ends = self.n_samples - sum(sweep.n_samples for sweep in steps)
        main = replace(self, samples=self.samples[:, :ends])
        parts = []
        for sweep in steps:
            part = self.samples[:, ends : ends + sweep.n_samples]
            parts.append(replace(self, samples=part, sweep=sweep, device_flags=()))
            ends += sweep.n_samples
        return replace(main, steps=tuple(parts))

    @property
    def all_samples(self) -> FloatArray:
        """All that was recorded, the steps included; shape (n_channels, n)."""
        return np.concatenate([self.samples, *(step.samples for step in self.steps)], axis=1)

    @property
    def roles(self) -> tuple[Role, ...]:
        """The roles present, in channel order."""
        return tuple(channel.role for channel in self.channels)

    @property
    def n_samples(self) -> int:
        """Length of every channel in samples."""
        return int(self.samples.shape[1])

    @property
    def rate_hz(self) -> float:
        """Sampling rate, the sweep's own."""
        return self.sweep.rate_hz

    def full_scale_samples(self, role: Role) -> FloatArray:
        """Return a channel relative to full scale; raise KeyError if the role is absent."""
        if role not in self.roles:
            raise KeyError(role)
        samples: FloatArray = self.samples[self.roles.index(role)]
        return samples

    def in_unit(self, role: Role) -> FloatArray:
        """Return a channel in Pa, V or A; raise KeyError if the role is absent."""
        samples = self.full_scale_samples(role)
        return samples * self.channels[self.roles.index(role)].full_scale
