"""Who is suspected of a unit's fault, from its readings and the netlist of its limit file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from station.analysis.readings import Readings
from station.diagnosis.blindspots import blind_spots
from station.diagnosis.circuit.building import SIGMAS, network_of
from station.diagnosis.circuit.network import Network
from station.diagnosis.fits.dictionary import Dictionary, dictionary_of, likely_starts
from station.diagnosis.fits.evidence import Evidence
from station.diagnosis.fits.fitting import fitted
from station.diagnosis.fits.hypotheses import Hypothesis, Kind, hypotheses_of
from station.diagnosis.fits.second import second_gain
from station.diagnosis.measured import evidence_of, has_impedance
from station.diagnosis.named.explanations import HEARD_WORDS, Explanation, explanations
from station.diagnosis.named.messages import NO_IMPEDANCE, NO_NETLIST
from station.diagnosis.named.sounds import heard_of
from station.diagnosis.named.suspect import Diagnosis, Estimate, Finding, Found, PartKind, Suspect
from station.diagnosis.named.units import unit_of
from station.judging.tables.netlisttables import NetlistTable
from station.judging.tables.readingtables import SectionTable
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.verdict import Judgement

SUSPECTED_FROM = 14.0  # of chi-square; some 2 of 1,000 good units gain more by chance
SECOND_FROM = 6.0  # of chi-square beyond what a part gains by chance; one in 100 does so
UNEXPLAINED_SHARE = 1e-3  # of units with one fault, whose chi-square is larger by chance
FAULTS_BEND = 2.0  # a faulty unit is off the model by more than a good one
GROUP_SHARE = 0.95
SHOWN = 5
WITH_ESTIMATE = (
    Found.VALUE, Found.RESISTANCE, Found.SHORTED_TURNS, Found.MOTOR, Found.MASS,
    Found.SUSPENSION, Found.LOSSES, Found.LEVEL, Found.BIAS, Found.CONTACT,
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """A model revision made ready for diagnoses: what is the same for every unit."""

    netlist: NetlistTable
    network: Network
    hypotheses: tuple[Hypothesis, ...]
    dictionary: Dictionary
    blind: tuple[tuple[str, str], ...]

    @property
    def panels(self) -> frozenset[str]:
        """The parts that need a bias."""
        return frozenset(panel.name for panel in self.netlist.panels)


def model_of(limits: LimitFile, readings: Readings) -> Model | None:
    """Return the model of a limit file for runs with such readings; None without a netlist."""
    if limits.netlist is None:
        return None
    return model_of_parts(limits.netlist, limits.readings.sections, readings)


def model_of_parts(
    netlist: NetlistTable, sections: tuple[SectionTable, ...], readings: Readings
) -> Model | None:
    """Return the model of a netlist for runs with such readings; None without an impedance."""
    if not has_impedance(readings):
        return None
    network = network_of(netlist, sections)
    hypotheses = hypotheses_of(network)
    evidence = evidence_of(readings, netlist, network)
    dictionary = dictionary_of(network, hypotheses, evidence.frequency_hz)
    blind = blind_spots(
        network, evidence.frequency_hz, np.full_like(evidence.sigma, netlist.noise_ratio)
    )
    biased = tuple((panel.name, "its bias") for panel in netlist.panels)
    return Model(netlist, network, hypotheses, dictionary, (*blind, *biased))


def diagnosis_of(model: Model | None, readings: Readings, judgement: Judgement | None) -> Diagnosis:
    """Return who is suspected of a unit's fault; `judgement` says whether it rubs or buzzes."""
    if not has_impedance(readings):
        return Diagnosis(Finding.NOT_POSSIBLE, why_not=NO_IMPEDANCE)
    if model is None:
        return Diagnosis(Finding.NOT_POSSIBLE, why_not=NO_NETLIST)
    evidence = evidence_of(readings, model.netlist, model.network)
    starts = likely_starts(model.dictionary, evidence)
    fits = fitted(model.network, evidence, model.hypotheses, starts)
    heard = heard_of(readings, judgement)
    found = explanations(model.network, model.panels, fits, heard)
    nothing = next(fit for fit in fits if fit.hypothesis.kind is Kind.NOTHING)
    squared = nothing.chi_square + heard.away_if_good()
    suspects, group = ranked(model, found, evidence.count)
    if squared - found[0].squared <= SUSPECTED_FROM:
        finding = Finding.NOTHING
    else:
        alone = explained_alone(model, evidence, found[0])
        finding = Finding.SUSPECTS if alone else Finding.NOT_ONE_PART
    return Diagnosis(finding, suspects, group, model.blind)


def explained_alone(model: Model, evidence: Evidence, best: Explanation) -> bool:
    """Return whether one part explains everything that was measured."""
    if best.left_squared > most_left(model.netlist, evidence.count):
        return False
    if best.fit is None:
        return True
    gain, _ = second_gain(model.network, evidence, model.hypotheses, best.fit)
    return gain < SECOND_FROM


def most_left(netlist: NetlistTable, count: int) -> float:
    """Return the chi-square above which no single part explains what was measured."""
    if netlist.learned is not None:
        return FAULTS_BEND * netlist.learned.good_square
    return float(chdtri(count, UNEXPLAINED_SHARE))


def ranked(
    model: Model, found: Sequence[Explanation], count: int
) -> tuple[tuple[Suspect, ...], int]:
    """Return the suspects with their probabilities, and how many hold 95 % of it.

    Where even the best leaves more than chance does, all know less than they claim.
    """
    squared = np.array([one.squared for one in found]) / max(1.0, found[0].left_squared / count)
    weight = np.exp(-0.5 * (squared - squared.min()))
    probability = weight / weight.sum()
    group = int(np.searchsorted(np.cumsum(probability), GROUP_SHARE)) + 1
    suspects = tuple(
        Suspect(
            one.part,
            {**HEARD_WORDS, **model.network.what}[one.part],
            kind_of(model, one.part),
            one.found,
            float(chance),
            estimate_of(model.network, one),
            one.beside,
        )
        for one, chance in zip(found[:SHOWN], probability, strict=False)
    )
    return suspects, min(group, len(suspects))


def kind_of(model: Model, part: str) -> PartKind:
    """Return what sort of part a suspect is."""
    netlist = model.netlist
    kinds = (
        (PartKind.DRIVER, netlist.drivers),
        (PartKind.TRANSFORMER, netlist.transformers),
        (PartKind.PANEL, netlist.panels),
        (PartKind.COMPONENT, netlist.parts),
    )
    for kind, tables in kinds:
        if any(table.name == part for table in tables):
            return kind
    return PartKind.OTHER


def estimate_of(network: Network, one: Explanation) -> Estimate | None:
    """Return what value a suspect seems to have, where it is its value that is off."""
    fit = one.fit
    if fit is None or one.found not in WITH_ESTIMATE or fit.hypothesis.mode is None:
        return None
    accused = fit.hypothesis.accused[0]
    column = int(np.flatnonzero(network.weights[:, accused])[0])
    moved, spread = float(fit.variables[accused]), float(fit.spread[accused])
    nominal = float(network.nominal[column])
    unit, tolerance = unit_of(network, fit.hypothesis), SIGMAS * network.sigma[accused]
    weight = float(network.weights[column, accused])
    if network.added[column]:
        return Estimate(nominal + weight * moved, weight * spread, nominal, np.nan, unit)
    value = nominal * float(np.exp(weight * moved))
    return Estimate(value, value * weight * spread, nominal, float(tolerance), unit)
