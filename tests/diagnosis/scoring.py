"""How well the diagnosis finds what was planted, counted over units whose truth ngspice told."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from station.analysis.readings import Curve, Number, Readings
from station.diagnosis.diagnose import Model, diagnosis_of, model_of_parts
from station.diagnosis.suspect import Diagnosis, Finding, Found, Suspect
from tests.diagnosis.netlists import netlist, sections
from tests.diagnosis.production import Fault

NOISE_RATIO = 0.003  # of the magnitude of Z, one standard deviation of each of its parts
FEW = 3
OF_FIELD = {
    "ohm": Found.VALUE, "farad": Found.VALUE, "henry": Found.VALUE, "leakage_h": Found.VALUE,
    "force_factor_tm": Found.MOTOR, "moving_mass_kg": Found.MASS,
    "stiffness_n_m": Found.SUSPENSION,
}  # fmt: skip

ComplexArray = NDArray[np.complex128]


def readings_of(
    hz: NDArray[np.float64],
    z_ohm: ComplexArray,
    rng: np.random.Generator,
    *,
    polarity: dict[str, float] | None = None,
    levels: dict[str, float] | None = None,
) -> Readings:
    """Return the readings of a unit, with noise on its impedance."""
    noise = rng.standard_normal((2, hz.size))
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


def score_of(
    name: str,
    hz: NDArray[np.float64],
    answers: Iterable[tuple[Fault, ComplexArray]],
    seed: int = 5,
) -> Score:
    """Return how well planted faults are found."""
    rng = np.random.default_rng(seed)
    score = Score()
    model: Model | None = None
    for fault, z_ohm in answers:
        readings = readings_of(hz, z_ohm, rng)
        model = model or model_of_network(name, readings)
        began_s = time.process_time()
        diagnosis = diagnosis_of(model, readings, None)
        score.add(fault, diagnosis, time.process_time() - began_s)
    return score


def suspected(name: str, hz: NDArray[np.float64], z_ohm: ComplexArray, seed: int = 6) -> int:
    """Return how many of some good units get a suspect."""
    rng = np.random.default_rng(seed)
    readings = [readings_of(hz, row, rng) for row in z_ohm]
    model = model_of_network(name, readings[0])
    return sum(diagnosis_of(model, one, None).finding is not Finding.NOTHING for one in readings)


def unexplained(
    name: str, hz: NDArray[np.float64], z_ohm: ComplexArray, seed: int = 7
) -> NDArray[np.bool_]:
    """Return of which units with two faults it is said that no single part explains them."""
    rng = np.random.default_rng(seed)
    readings = [readings_of(hz, row, rng) for row in z_ohm]
    model = model_of_network(name, readings[0])
    found = [diagnosis_of(model, one, None).finding for one in readings]
    return np.array([finding is Finding.NOT_ONE_PART for finding in found])
