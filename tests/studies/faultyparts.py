"""How well a faulty part is named, on circuits that ngspice solved.

    ./.run python -m tests.studies.faultyparts [UNITS] [WORKERS] [SEED]

Three networks, every part drawn inside its tolerance, one fault or two in each, 0.3 % noise on Z.
All is told twice: from the impedance alone, and with the level of each section, as the station
measures it, 0.5 dB of scatter on it. Beside what is found stands what could be found at best.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.cycle.processes import one_thread_each, pool_of
from station.diagnosis.diagnose import diagnosis_of
from station.diagnosis.named.suspect import Finding, Found
from tests.diagnosis.decks import Unit
from tests.diagnosis.netlists import NAMES, netlist
from tests.diagnosis.production import drawn
from tests.diagnosis.reach import ALLOWED_SHARE, alone, reachable_share
from tests.diagnosis.scoring import (
    NOISE_RATIO,
    Score,
    findings_of,
    model_of_network,
    readings_of,
    readings_of_all,
    score_of,
)
from tests.diagnosis.truth import answers, broken_units, doubly_broken, good_units, levels_of

UNITS, WORKERS, SEED = 300, 2, 8140
REVERSED_UNITS = 100
NOISE = 100  # added to a seed: noise is drawn apart from the parts
KINDS = ("one fault", "good", "two faults", "reversed")
# Chi-square by which a second fault moves the impedance that ngspice computes, tolerances aside: a
# single fault that moves it by less has no suspect either.
SHOWS_FROM = 16.0

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Job:
    """Some units of a network to be made, solved and diagnosed."""

    network: str
    kind: str
    units: int
    seed: int
    ngspice: str

    def solved(self, units: list[Unit]) -> tuple[FloatArray, ComplexArray, list[FloatArray]]:
        """Return frequencies, impedances, and levels against a nominal unit's."""
        nominal = Unit(netlist(self.network))
        hz, z_ohm, sounds = answers(self.ngspice, self.network, [nominal, *units])
        levels = [np.array(levels_of(self.network, hz, one, sounds[0])) for one in sounds[1:]]
        return hz, z_ohm[1:], levels


def main() -> None:
    """Print the figures of each network, as they come."""
    ngspice = shutil.which("ngspice")
    if ngspice is None:
        sys.exit("ngspice is not installed: apt install ngspice")
    given = [int(word) for word in sys.argv[1:]]
    count, workers, seed = (*given, *(UNITS, WORKERS, SEED)[len(given) :])
    jobs = [Job(name, kind, count, seed, ngspice) for kind in KINDS for name in NAMES]
    with one_thread_each(), pool_of(workers) as pool:
        for job, lines in zip(jobs, pool.map(lines_of, jobs), strict=True):
            print(f"{job.network}, {job.kind}, {count} units")
            for line in lines:
                print(f"    {line}", flush=True)


def lines_of(job: Job) -> list[str]:
    """Return what is printed of a job."""
    told = {
        "one fault": single_lines,
        "good": good_lines,
        "two faults": double_lines,
        "reversed": reversed_lines,
    }
    return list(told[job.kind](job))


def single_lines(job: Job) -> Iterator[str]:
    """Yield what comes of units with one fault."""
    planted = broken_units(job.network, job.units, job.seed)
    hz, z_ohm, levels_db = job.solved([unit for unit, _ in planted])
    _, clean_ohm, clean_db = job.solved([alone(job.network, fault) for _, fault in planted])
    for with_levels, heard in (("", None), ("with levels: ", levels_db)):
        clean = [
            readings_of(hz, row, None, levels=by_section(job.network, levels) if heard else None)
            for row, levels in zip(clean_ohm, clean_db, strict=True)
        ]
        readings = readings_of_all(job.network, hz, z_ohm, job.seed + NOISE, heard)
        score = score_of(job.network, [fault for _, fault in planted], readings)
        yield (
            f"{with_levels}detected {score.detected / job.units:.1%}; of those right first "
            f"{score.first / score.detected:.1%}, in the first three "
            f"{score.few / score.detected:.1%}; taken for two faults {score.not_one}"
        )
        yield (
            f"{with_levels}what {ALLOWED_SHARE:.1%} of suspects on good units would let the best "
            f"test detect: {reachable_share(job.network, clean):.1%}"
        )
        yield (
            f"{with_levels}value error median {np.median(score.errors):.2%}, 95th percentile "
            f"{np.percentile(score.errors, 95):.1%}; error over stated uncertainty, rms "
            f"{score.rms_away:.2f} of {len(score.away)}; processor time median "
            f"{np.median(score.seconds):.3f} s"
        )
        yield from confusion_lines(with_levels, score)


def by_section(network: str, levels_db: Iterable[float]) -> dict[str, float]:
    """Return levels by the names of their sections."""
    outputs = netlist(network).outputs
    return {output.section: float(db) for output, db in zip(outputs, levels_db, strict=True)}


def confusion_lines(with_levels: str, score: Score) -> Iterator[str]:
    """Yield who was named instead, part by part."""
    for (part, named), count in sorted(score.confusion.items()):
        if named != part:
            yield f"    {with_levels}{part} was at fault, {named} named: {count}"


def good_lines(job: Job) -> Iterator[str]:
    """Yield how many good units get a suspect."""
    hz, z_ohm, levels_db = job.solved(good_units(job.network, job.units, job.seed + 1))
    for with_levels, heard in (("", None), ("with levels: ", levels_db)):
        readings = readings_of_all(job.network, hz, z_ohm, job.seed + NOISE + 1, heard)
        found = findings_of(job.network, readings)
        suspected = sum(finding is not Finding.NOTHING for finding in found)
        yield f"{with_levels}suspects on {suspected} of {job.units}"


def double_lines(job: Job) -> Iterator[str]:
    """Yield what is said of two faults at once; one may hide behind the other, as in series."""
    triples = doubly_broken(job.network, job.units, job.seed + 2)
    hz, z_ohm, levels_db = job.solved([both for both, _, _ in triples])
    shown = np.ones(job.units, dtype=bool)
    for at in (1, 2):
        _, alone_ohm, _ = job.solved([three[at] for three in triples])
        away = np.sum(np.abs(np.log(z_ohm / alone_ohm) / NOISE_RATIO) ** 2, axis=1)
        shown &= away > SHOWS_FROM
    for with_levels, heard in (("", None), ("with levels: ", levels_db)):
        readings = readings_of_all(job.network, hz, z_ohm, job.seed + NOISE + 2, heard)
        found = findings_of(job.network, readings)
        told = np.array([finding is Finding.NOT_ONE_PART for finding in found])
        yield (
            f"{with_levels}said not to be one part: {told.mean():.1%} of all, "
            f"{told[shown].mean():.1%} of the {np.count_nonzero(shown)} where both show in Z"
        )


def reversed_lines(job: Job) -> Iterator[str]:
    """Yield the share of good units with one driver reversed of which just that is said.

    Levels and signs are read from the sound of each section alone against a nominal unit's.
    """
    rng = np.random.default_rng(job.seed + 3)
    outputs = netlist(job.network).outputs
    units, truth = [Unit(netlist(job.network))], []
    for number in range(min(job.units, REVERSED_UNITS)):
        unit, output = drawn(netlist(job.network), rng), outputs[number % len(outputs)]
        units.append(Unit(unit.netlist, reversed=frozenset({output.part}), gain=unit.gain))
        truth.append(output.part)
    hz, z_ohm, sounds = answers(job.ngspice, job.network, units)
    right = 0
    model = None
    for part, row, sound in zip(truth, z_ohm[1:], sounds[1:], strict=True):
        levels = levels_of(job.network, hz, sound, sounds[0])
        signs = {}
        for output in outputs:
            ratio = sound[output.part] / sounds[0][output.part]
            signs[output.section] = float(np.mean((ratio / np.abs(ratio)).real))
        named = by_section(job.network, levels)
        readings = readings_of(hz, row, rng, polarity=signs, levels=named)
        model = model or model_of_network(job.network, readings)
        first = diagnosis_of(model, readings, None).first
        right += first is not None and first.part == part and first.found is Found.REVERSED
    yield f"{right} of {len(truth)} found by the response"


if __name__ == "__main__":
    main()
