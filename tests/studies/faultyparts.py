"""How well a faulty part is named from the impedance alone, on circuits that ngspice solved.

    ./.run python -m tests.studies.faultyparts [UNITS]

Three networks, every part drawn inside its tolerance, one fault in each, 0.3 % noise on Z.
"""

from __future__ import annotations

import shutil
import sys

import numpy as np

from station.diagnosis.diagnose import diagnosis_of
from station.diagnosis.suspect import Found
from tests.diagnosis.decks import Unit
from tests.diagnosis.netlists import NAMES, netlist
from tests.diagnosis.production import drawn
from tests.diagnosis.scoring import (
    NOISE_RATIO,
    Score,
    model_of_network,
    readings_of,
    score_of,
    suspected,
    unexplained,
)
from tests.diagnosis.truth import answers, broken_units, doubly_broken, good_units, levels_of

UNITS, SEED = 300, 40
REVERSED_UNITS = 100
SHOWS_FROM = 100.0  # chi-square by which a second fault changes what is measured of the first


def main() -> None:
    """Print the figures of each network."""
    ngspice = shutil.which("ngspice")
    if ngspice is None:
        sys.exit("ngspice is not installed: apt install ngspice")
    count = int(sys.argv[1]) if len(sys.argv) > 1 else UNITS
    for name in NAMES:
        print(f"\n{name}, {count} units of each kind")
        print_singles(name, ngspice, count)
        hz, z_ohm, _ = answers(ngspice, name, good_units(name, count, SEED + 1))
        print(f"suspects on good units: {suspected(name, hz, z_ohm)} of {count}")
        print_doubles(name, ngspice, count)
        found = reversed_found(name, ngspice, min(count, REVERSED_UNITS))
        print(f"reversed drivers found by the response: {found:.1%}")


def print_doubles(name: str, ngspice: str, count: int) -> None:
    """Print what is said of two faults at once; one may hide behind the other, as in series."""
    triples = doubly_broken(name, count, SEED + 2)
    (hz, both, _), *single = (
        answers(ngspice, name, [three[at] for three in triples]) for at in range(3)
    )
    shown = np.ones(count, dtype=bool)
    for _, z_ohm, _ in single:
        away = np.sum(np.abs(np.log(both / z_ohm) / NOISE_RATIO) ** 2, axis=1)
        shown &= away > SHOWS_FROM
    told = unexplained(name, hz, both)
    print(
        f"two faults said not to be one part: {told.mean():.1%} of all, "
        f"{told[shown].mean():.1%} of the {np.count_nonzero(shown)} where neither hides the other"
    )


def print_singles(name: str, ngspice: str, count: int) -> None:
    """Print what comes of units with one fault."""
    planted = broken_units(name, count, SEED)
    hz, z_ohm, _ = answers(ngspice, name, [unit for unit, _ in planted])
    score = score_of(name, hz, zip([fault for _, fault in planted], z_ohm, strict=True))
    print(
        f"detected {score.detected / count:.1%}; of those right first "
        f"{score.first / score.detected:.1%}, in the first three {score.few / score.detected:.1%}"
    )
    print(
        f"value error median {np.median(score.errors):.2%}, 95th percentile "
        f"{np.percentile(score.errors, 95):.1%}; error over stated uncertainty, rms "
        f"{score.rms_away:.2f} of {len(score.away)}; processor time median "
        f"{np.median(score.seconds):.3f} s"
    )
    print_confusion(score)


def print_confusion(score: Score) -> None:
    """Print who was named instead, part by part."""
    for (part, named), count in sorted(score.confusion.items()):
        if named != part:
            print(f"    {part} was at fault, {named} named: {count}")


def reversed_found(name: str, ngspice: str, count: int) -> float:
    """Return the share of good units with one driver reversed of which just that is said.

    Levels and signs are read from the sound of each section alone against a nominal unit's.
    """
    rng = np.random.default_rng(SEED + 3)
    outputs = netlist(name).outputs
    units, truth = [Unit(netlist(name))], []
    for number in range(count):
        unit, output = drawn(netlist(name), rng), outputs[number % len(outputs)]
        units.append(Unit(unit.netlist, reversed=frozenset({output.part}), gain=unit.gain))
        truth.append(output.part)
    hz, z_ohm, sounds = answers(ngspice, name, units)
    right = 0
    model = None
    for part, row, sound in zip(truth, z_ohm[1:], sounds[1:], strict=True):
        levels = levels_of(name, hz, sound, sounds[0])
        signs = {}
        for output in outputs:
            ratio = sound[output.part] / sounds[0][output.part]
            signs[output.section] = float(np.mean((ratio / np.abs(ratio)).real))
        named = {output.section: level for output, level in zip(outputs, levels, strict=True)}
        readings = readings_of(hz, row, rng, polarity=signs, levels=named)
        model = model or model_of_network(name, readings)
        first = diagnosis_of(model, readings, None).first
        right += first is not None and first.part == part and first.found is Found.REVERSED
    return right / count


if __name__ == "__main__":
    main()
