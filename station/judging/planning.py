"""From a limit file's tables to what the analysis takes: the sweep and the plan."""

from __future__ import annotations

import numpy as np

from station.analysis.plan import (
    DistortionPlan,
    ImpedancePlan,
    IntegrityPlan,
    Plan,
    Reference,
    ResonancePlan,
    ResponsePlan,
    RubPlan,
    SectionPlan,
    SensitivityPlan,
)
from station.analysis.sweep import Sweep
from station.judging.tables import LimitFile, ReferenceTable


def sweep_of(limits: LimitFile) -> Sweep:
    """Return the stimulus a limit file asks for."""
    return Sweep(**limits.stimulus.model_dump())


def plan_of(limits: LimitFile) -> Plan:
    """Return what a limit file asks the analysis to compute."""
    readings = limits.readings
    distortion, impedance = readings.distortion, readings.impedance
    rub, resonance, sensitivity = readings.rub, readings.resonance, readings.sensitivity
    return Plan(
        integrity=IntegrityPlan(**limits.integrity.model_dump()),
        response=ResponsePlan(**readings.response.model_dump()),
        reference=reference_of_table(limits.reference) if limits.reference else None,
        sensitivity=SensitivityPlan(**sensitivity.model_dump()) if sensitivity else None,
        distortion=DistortionPlan(**distortion.model_dump()) if distortion else None,
        rub=RubPlan(**rub.model_dump()) if rub else None,
        impedance=ImpedancePlan(**impedance.model_dump()) if impedance else None,
        resonance=ResonancePlan(**resonance.model_dump()) if resonance else None,
        sections=tuple(SectionPlan(**section.model_dump()) for section in readings.sections),
    )


def reference_of_table(table: ReferenceTable) -> Reference:
    """Return the reference unit's complex response from its columns."""
    magnitude = 10.0 ** (np.array(table.db) / 20.0)
    phase_rad = np.deg2rad(np.array(table.deg))
    return Reference(np.array(table.hz), magnitude * np.exp(1j * phase_rad))
