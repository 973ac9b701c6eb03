"""What to compute from a recording: the readings a limit file asks for, with their parameters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray, read_only


@dataclass(frozen=True, slots=True)
class ResponsePlan:
    """Response over standard 1/n-octave bands, as level at 1 m for `for_v`."""

    from_hz: float
    to_hz: float
    bands_per_octave: int
    gate_s: float
    for_v: float


@dataclass(frozen=True, slots=True)
class SensitivityPlan:
    """Mean level of the response between two frequencies."""

    from_hz: float
    to_hz: float


@dataclass(frozen=True, slots=True)
class DistortionPlan:
    """Harmonics `orders` and their sum against the excitation frequency."""

    from_hz: float
    to_hz: float
    bands_per_octave: int
    orders: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ImpedancePlan:
    """Magnitude and phase of Z; the minimum is searched between the minimum_ frequencies."""

    from_hz: float
    to_hz: float
    bands_per_octave: int
    gate_s: float
    minimum_from_hz: float
    minimum_to_hz: float


@dataclass(frozen=True, slots=True)
class ResonancePlan:
    """The peak of |Z| that is the resonance frequency fs lies between these frequencies."""

    from_hz: float
    to_hz: float


@dataclass(frozen=True, slots=True)
class SectionPlan:
    """One section (woofer, tweeter, panel) and the band in which it alone is heard."""

    name: str
    from_hz: float
    to_hz: float


@dataclass(frozen=True, slots=True)
class RubPlan:
    """Rub and buzz: excitation frequencies judged, and the band the residual is heard in."""

    from_hz: float
    to_hz: float
    heard_from_hz: float
    heard_to_hz: float


@dataclass(frozen=True, slots=True)
class IntegrityPlan:
    """When a recording cannot be trusted.

    Attributes
    ----------
    level_tolerance_db : float
        How far the measured voltage may be from the stimulus's level.
    silent_below_dbfs : float
        A channel whose whole RMS is below this many dB relative to full scale is dead.
    residual_db : float
        How far below the voltage its part that no linear path explains must stay, in dB
        (negative); dropped or repeated samples and a clipping amplifier push it up.
    quiet_below_db_spl : float
        Ambient level in the lead-in above which nothing can be measured.
    """

    level_tolerance_db: float
    silent_below_dbfs: float
    residual_db: float
    quiet_below_db_spl: float


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """Complex response of the reference unit, flight time removed.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising.
    response : ndarray, shape (n,)
        Complex; magnitude in Pa at 1 m per V.
    """

    frequency_hz: FloatArray
    response: ComplexArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "frequency_hz", read_only(self.frequency_hz))
        object.__setattr__(self, "response", read_only(self.response))


@dataclass(frozen=True, slots=True)
class Plan:
    """All readings to compute; a part that is None is not asked for."""

    integrity: IntegrityPlan
    response: ResponsePlan
    reference: Reference | None = None
    sensitivity: SensitivityPlan | None = None
    distortion: DistortionPlan | None = None
    rub: RubPlan | None = None
    impedance: ImpedancePlan | None = None
    resonance: ResonancePlan | None = None
    sections: tuple[SectionPlan, ...] = ()


def needed_roles(plan: Plan) -> tuple[str, ...]:
    """Return the channel roles without which the plan cannot be carried out."""
    roles = ["microphone", "voltage"]
    if plan.impedance is not None or plan.resonance is not None:
        roles.append("current")
    return tuple(roles)


def highest_hz(plan: Plan) -> float:
    """Return the highest frequency any reading needs."""
    parts = (plan.response, plan.impedance, plan.rub and plan.rub.heard_to_hz)
    ends = [part if isinstance(part, float) else part.to_hz for part in parts if part is not None]
    return float(np.max(ends))
