"""What to compute from a recording: the readings a limit file asks for, with their parameters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.recording import Role
from station.analysis.statistics.population import PatternModel
from station.analysis.statistics.uncertainty import Estimate

FilterKind = Literal["low-pass", "high-pass"]


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
class FilterPlan:
    """Where to read a filter.

    Attributes
    ----------
    kind : {"low-pass", "high-pass"}
        Which side of the passband falls.
    passband_from_hz, passband_to_hz : float
        Where the level is that the corner refers to.
    slope_from_hz, slope_to_hz : float
        The straight part of the flank.
    """

    kind: FilterKind
    passband_from_hz: float
    passband_to_hz: float
    slope_from_hz: float
    slope_to_hz: float


@dataclass(frozen=True, slots=True)
class CompressionPlan:
    """How much less than in proportion a unit plays at rising levels, after the main sweep.

    Attributes
    ----------
    from_hz, to_hz : float
        The band.
    bands_per_octave : int
        Bands whose mean level counts.
    gate_s : float
        End of the impulse response.
    reached_db : float
        The compression that counts as the onset of a limiter or of clipping.
    """

    from_hz: float
    to_hz: float
    bands_per_octave: int
    gate_s: float
    reached_db: float


@dataclass(frozen=True, slots=True)
class DistortionPlan:
    """Harmonics `orders` and their sum against the excitation frequency."""

    from_hz: float
    to_hz: float
    bands_per_octave: int
    orders: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ImpedancePlan:
    """Magnitude and phase of Z; the minimum is searched between the minimum_ frequencies.

    With a rated impedance, how far the minimum lies above what the rating allows is read too; the
    minimum_ frequencies are then the rated frequency range.
    """

    from_hz: float
    to_hz: float
    bands_per_octave: int
    gate_s: float
    minimum_from_hz: float
    minimum_to_hz: float
    rated_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class DriverPlan:
    """A moving-coil driver that stands at the terminals, no crossover between: its band of Z."""

    from_hz: float
    to_hz: float


@dataclass(frozen=True, slots=True)
class ClosedBoxPlan:
    """The driver as it was in free air, before it came into its closed box."""

    free_fs_hz: Estimate
    free_qts: Estimate


@dataclass(frozen=True, slots=True)
class PanelPlan:
    """An electrostatic panel behind its transformer: its band of Z, the minimum inside."""

    from_hz: float
    to_hz: float
    turns_ratio: float


@dataclass(frozen=True, slots=True)
class IdleNoisePlan:
    """What a powered unit lets hear before the sweep: so many multiples of the mains frequency."""

    hum_orders: int


@dataclass(frozen=True, slots=True)
class DipolePlan:
    """The sound behind a unit against the sound before it, in a band.

    `longest_delay_s` is how much earlier or later the sound may reach the rear microphone than
    the main one.
    """

    from_hz: float
    to_hz: float
    longest_delay_s: float


@dataclass(frozen=True, slots=True, eq=False)
class PatternPlan:
    """The population that a curve is compared with; the curve is on the model's frequencies."""

    curve: str
    model: PatternModel


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
    clock_ppm : float or None
        How far, in parts per million, the output's clock may be from the inputs'; None if nobody
        looks.
    """

    level_tolerance_db: float
    silent_below_dbfs: float
    residual_db: float
    quiet_below_db_spl: float
    clock_ppm: float | None = None


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
    driver: DriverPlan | None = None
    closed_box: ClosedBoxPlan | None = None
    panel: PanelPlan | None = None
    idle_noise: IdleNoisePlan | None = None
    filter: FilterPlan | None = None
    dipole: DipolePlan | None = None
    pattern: PatternPlan | None = None
    compression: CompressionPlan | None = None


def needed_roles(plan: Plan) -> tuple[Role, ...]:
    """Return the channel roles without which the plan cannot be carried out.

    Idle noise needs the ambient microphone: without it nobody can tell the unit from the room.
    """
    roles: list[Role] = ["microphone", "voltage"]
    if plan.impedance is not None or plan.resonance is not None:
        roles.append("current")
    if plan.idle_noise is not None:
        roles.append("ambient")
    if plan.dipole is not None:
        roles.append("rear")
    return tuple(roles)


def check_plan(plan: Plan) -> None:
    """Refuse a plan that contradicts itself; raise ValueError.

    Parameters
    ----------
    plan : Plan
        Any.

    Raises
    ------
    ValueError
        If a reading is asked for without the one it is read from.

    References
    ----------
    .. [1] No source: what each reading is read from.
    """
    needs = (
        ("resonance", plan.resonance, "impedance", plan.impedance),
        ("driver", plan.driver, "resonance", plan.resonance),
        ("closed box", plan.closed_box, "driver", plan.driver),
        ("panel", plan.panel, "impedance", plan.impedance),
    )
    for name, reading, source, needed in needs:
        if reading is not None and needed is None:
            raise ValueError(f"the {name} is read from the {source}, which is not asked for")


def highest_hz(plan: Plan) -> float:
    """Return the highest frequency any reading needs."""
    parts = (plan.response, plan.impedance, plan.rub and plan.rub.heard_to_hz)
    ends = [part if isinstance(part, float) else part.to_hz for part in parts if part is not None]
    return float(np.max(ends))
