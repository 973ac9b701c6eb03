"""How well the diagnosis finds what was planted, counted over units whose truth ngspice told."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from station.analysis.readings import Curve, Number, Readings
from station.diagnosis.diagnose import Model, diagnosis_of, model_of_parts
from station.diagnosis.named.suspect import Diagnosis, Finding, Found, Suspect
from tests.diagnosis.netlists import netlist, sections
from tests.diagnosis.production import Fault

NOISE_RATIO = 0.003  # of the magnitude of Z, one standard deviation of each of its parts
FEW = 3
OF_FIELD = {
    "ohm": Found.VALUE, "farad": Found.VALUE, "henry": Found.VALUE, "leakage_h": Found.VALUE,
    "force_factor_tm": Found.MOTOR, "moving_mass_kg": Found.MASS,
    "stiffness_n_m": Found.SUSPENSION,
}  # fmt: skip

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def readings_of(
    hz: FloatArray,
    z_ohm: ComplexArray,
    rng: np.random.Generator | None,
    *,
    polarity: dict[str, float] | None = None,
    levels: dict[str, float] | None = None,
) -> Readings:
    """Return the readings of a unit, with noise on its impedance if `rng` is given."""
    noise = np.zeros((2, hz.size)) if rng is None else rng.standard_normal((2, hz.size))
    noisy = z_ohm * (1.0 + NOISE_RATIO * (noise[0] + 1j * noise[1]))
    numbers = {
        f"polarity.{name}": Number(value, "ratio") for name, value in (polarity or {}).items()
    }
    numbers |= {f"level.{name}": Number(value, "dB") for name, value in (levels or {}).items()}
    return Readings(
        numbers,
        {
            "impedance": Curve(hz, np.abs(noisy), "Ω"),
            "impedance_phase": Curve(hz, np.degrees(np.angle(noisy)), "deg"),
        },
    )


def model_of_network(name: str, readings: Readings) -> Model:
    """Return the model of one of the networks beside this file."""
    model = model_of_parts(netlist(name), sections(name), readings)
    assert model is not None
    return model


@dataclass
class Score:
    """Counts over units with one fault each."""

    units: int = 0
    detected: int = 0
    first: int = 0
    few: int = 0
    not_one: int = 0  # said to be more than one part
    errors: list[float] = field(default_factory=list)
    away: list[float] = field(default_factory=list)  # error over stated uncertainty
    seconds: list[float] = field(default_factory=list)
    confusion: Counter[tuple[str, str]] = field(default_factory=Counter)

    def add(self, fault: Fault, diagnosis: Diagnosis, seconds: float) -> None:
        """Count one unit."""
        self.units += 1
        self.seconds.append(seconds)
        named = diagnosis.suspects[0].part if diagnosis.first else "nobody"
        self.confusion[fault.part, named] += 1
        if diagnosis.first is None:
            return
        parts = [{one.part, one.beside} for one in diagnosis.suspects]
        self.detected += 1
        self.not_one += diagnosis.finding is Finding.NOT_ONE_PART
        self.first += fault.part in parts[0]
        self.few += any(fault.part in accused for accused in parts[:FEW])
        if fault.part in parts[0]:
            self._compare(fault, diagnosis.suspects[0])

    def _compare(self, fault: Fault, suspect: Suspect) -> None:
        found = OF_FIELD.get(fault.how)
        if suspect.estimate is None or found is None or suspect.found is not found:
            return
        ratio = suspect.estimate.value / suspect.estimate.nominal
        error = math.log(ratio / fault.ratio)
        self.errors.append(abs(error))
        self.away.append(error * suspect.estimate.value / suspect.estimate.uncertainty)

    @property
    def rms_away(self) -> float:
        """Root mean square of the errors in units of the stated uncertainty."""
        return float(np.sqrt(np.mean(np.square(self.away))))


def readings_of_all(
    name: str,
    hz: FloatArray,
    z_ohm: Iterable[ComplexArray],
    seed: int,
    levels_db: Iterable[FloatArray] | None = None,
) -> list[Readings]:
    """Return the readings of some units of a network, with their sections' levels if given.

    A level scatters by what the netlist says that it does.
    """
    rng = np.random.default_rng(seed)
    if levels_db is None:
        return [readings_of(hz, row, rng) for row in z_ohm]
    outputs = netlist(name).outputs
    found = []
    for row, levels in zip(z_ohm, levels_db, strict=True):
        heard = {
            output.section: float(level + output.spread_db * rng.standard_normal())
            for output, level in zip(outputs, levels, strict=True)
        }
        found.append(readings_of(hz, row, rng, levels=heard))
    return found


def score_of(name: str, faults: Iterable[Fault], readings: Sequence[Readings]) -> Score:
    """Return how well planted faults are found."""
    score = Score()
    model = model_of_network(name, readings[0])
    for fault, one in zip(faults, readings, strict=True):
        began_s = time.process_time()
        diagnosis = diagnosis_of(model, one, None)
        score.add(fault, diagnosis, time.process_time() - began_s)
    return score


def findings_of(name: str, readings: Sequence[Readings]) -> list[Finding]:
    """Return what the diagnosis of each unit comes to."""
    model = model_of_network(name, readings[0])
    return [diagnosis_of(model, one, None).finding for one in readings]
