"""From a limit file's tables to what the analysis takes: the sweep and the plan."""

from __future__ import annotations

from typing import TypeVar

import numpy as np

from station.analysis.plan import (
    ClosedBoxPlan,
    CompressionPlan,
    DipolePlan,
    DistortionPlan,
    DriverPlan,
    FilterPlan,
    IdleNoisePlan,
    ImpedancePlan,
    IntegrityPlan,
    PanelPlan,
    PatternPlan,
    Plan,
    Reference,
    ResonancePlan,
    ResponsePlan,
    RubPlan,
    SectionPlan,
    SensitivityPlan,
)
from station.analysis.signals.sweep import Sweep
from station.analysis.statistics.population import PatternModel
from station.analysis.statistics.uncertainty import Estimate
from station.errors import RefusedInputError
from station.judging.tables.impedancetables import ClosedBoxTable
from station.judging.tables.readingtables import BESIDE_RATIO, CompressionTable, PatternTable
from station.judging.tables.tables import LimitFile, ReferenceTable
from station.tomlfiles.loading import StrictModel

MARGIN = "noise_margin_db"  # decides only when it is judged

PlanT = TypeVar("PlanT")


def sweep_of(limits: LimitFile) -> Sweep:
    """Return the stimulus a limit file asks for."""
    return Sweep(**limits.stimulus.model_dump())


def steps_of(limits: LimitFile) -> tuple[Sweep, ...]:
    """Return the sweeps that follow the main one, at rising levels."""
    table = limits.readings.compression
    if table is None:
        return ()
    faded_in_hz = table.from_hz / BESIDE_RATIO
    return tuple(
        Sweep(
            faded_in_hz / BESIDE_RATIO,
            faded_in_hz,
            table.to_hz * BESIDE_RATIO,
            table.duration_s,
            level_v,
            table.silence_s,
            table.silence_s,
            limits.stimulus.rate_hz,
        )
        for level_v in table.levels_v
    )


def plan_of(limits: LimitFile) -> Plan:
    """Return what a limit file asks the analysis to compute."""
    readings = limits.readings
    response = readings.response.model_dump(exclude={MARGIN})
    return Plan(
        integrity=IntegrityPlan(**limits.integrity.model_dump()),
        response=ResponsePlan(**response),
        reference=reference_of_table(limits.reference) if limits.reference else None,
        sensitivity=planned(SensitivityPlan, readings.sensitivity),
        distortion=planned(DistortionPlan, readings.distortion),
        rub=planned(RubPlan, readings.rub),
        impedance=planned(ImpedancePlan, readings.impedance),
        resonance=planned(ResonancePlan, readings.resonance),
        sections=tuple(SectionPlan(**section.model_dump()) for section in readings.sections),
        driver=planned(DriverPlan, readings.driver),
        closed_box=box_of_table(readings.closed_box) if readings.closed_box else None,
        panel=planned(PanelPlan, readings.panel),
        idle_noise=planned(IdleNoisePlan, readings.idle_noise),
        filter=planned(FilterPlan, readings.filter),
        dipole=planned(DipolePlan, readings.dipole),
        compression=compression_of_table(readings.compression) if readings.compression else None,
        pattern=pattern_of_table(readings.pattern, limits.learned) if readings.pattern else None,
    )


def planned(plan: type[PlanT], table: StrictModel | None) -> PlanT | None:
    """Return the part of a plan that a table asks for, field by field."""
    return None if table is None else plan(**table.model_dump(exclude={MARGIN}))


def compression_of_table(table: CompressionTable) -> CompressionPlan:
    """Return how the sweeps at rising levels are read."""
    return CompressionPlan(
        table.from_hz, table.to_hz, table.bands_per_octave, table.gate_s, table.reached_db
    )


def box_of_table(table: ClosedBoxTable) -> ClosedBoxPlan:
    """Return the driver as it was in free air."""
    return ClosedBoxPlan(
        Estimate(table.free_fs_hz, table.free_fs_uncertainty_hz),
        Estimate(table.free_qts, table.free_qts_uncertainty),
    )


def pattern_of_table(table: PatternTable, learned: PatternModel | None) -> PatternPlan:
    """Return the population to compare with; raise RefusedInputError if it was not read."""
    if learned is None:
        raise RefusedInputError(
            f"The pattern file {table.file!r} was not read with its limit file.",
            "Give the limit file by its path, the pattern file beside it.",
        )
    return PatternPlan(table.curve, learned)


def reference_of_table(table: ReferenceTable) -> Reference:
    """Return the reference unit's complex response from its columns."""
    magnitude = 10.0 ** (np.array(table.db) / 20.0)
    phase_rad = np.deg2rad(np.array(table.deg))
    return Reference(np.array(table.hz), magnitude * np.exp(1j * phase_rad))
