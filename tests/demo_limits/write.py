"""Write the demo limit files from simulated good units.

    ./.run python -m tests.demo_limits.write limits

Stimulus, readings and advice of a model are written by hand in `<model>.head.toml` and
`<model>.advice.toml` beside this file; reference, bands and numbers come from the units.
"""

from __future__ import annotations

import sys
import threading
import tomllib
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from station.analysis.acoustic.response import reference_of
from station.analysis.measure import Measured, measure
from station.analysis.plan import Reference
from station.analysis.recording import Recording
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from station.cycle.bench import recording_of
from station.hardware.clock import SystemClock
from station.judging.planning import plan_of, sweep_of
from station.judging.tables import LimitFile
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from tests.demo_limits.envelopes import Widening, breakpoints, limits_of

HERE = Path(__file__).parent
SEED = 2026
UNITS = 60


@dataclass(frozen=True, slots=True)
class CurveRule:
    """How the band of one curve is made."""

    reading: str
    mode: str
    widening: Widening
    per_octave: int
    scale: float
    sides: str = "both"
    to_hz: float = float("inf")


@dataclass(frozen=True, slots=True)
class NumberRule:
    """How the limits of one number are made."""

    reading: str
    widening: Widening
    scale: float
    absent: str = ""


@dataclass(frozen=True, slots=True)
class Recipe:
    """One model."""

    name: str
    prefix: str
    curves: tuple[CurveRule, ...]
    numbers: tuple[NumberRule, ...]
    sections: tuple[str, ...]


RESPONSE = CurveRule("response", "relative", Widening(5.0, 0.8, 0.1), 1, 1.0)
THD = CurveRule("thd", "absolute", Widening(5.0, 4.0, 0.5), 1, 3.0, "upper")
RUB = CurveRule("rub", "absolute", Widening(5.0, 4.0, 0.5), 1, 3.0, "upper")
IMPEDANCE = CurveRule("impedance", "absolute", Widening(5.0, 0.15, 0.01), 6, 0.3)
SENSITIVITY = NumberRule("sensitivity", Widening(5.0, 0.7, 0.1), 1.0)
# An open voice coil has no resonance, and that is what is wrong with it.
FS = NumberRule("fs", Widening(5.0, 2.0, 0.5), 2.0, 'absent = "fail"\n')
MINIMUM = NumberRule("impedance_min", Widening(5.0, 0.1, 0.01), 0.2)
MINIMUM_HZ = NumberRule("impedance_min_hz", Widening(5.0, 300.0, 10.0), 300.0)
LEVEL = Widening(5.0, 0.7, 0.1)

RECIPES = (
    Recipe(
        "tarn2",
        "T2A",
        (RESPONSE, THD, RUB, IMPEDANCE),
        (SENSITIVITY, FS, MINIMUM),
        ("woofer", "tweeter"),
    ),
    Recipe(
        "fell60",
        "F6A",
        (RESPONSE, THD, RUB, IMPEDANCE),
        (SENSITIVITY, FS, MINIMUM, MINIMUM_HZ),
        ("woofer", "panel"),
    ),
    Recipe("scree12", "S12A", (RESPONSE, THD, RUB), (SENSITIVITY,), ("woofer",)),
)


def recordings(recipe: Recipe, limits: LimitFile) -> list[Recording]:
    """Return one recording of each of the model's good units."""
    station, _ = simulated_station()
    bench = SimulatedBench(station, seed=SEED, faults_of={}, paced=False, clock=SystemClock())
    sweep = sweep_of(limits)
    output = sweep_voltage(sweep) / station.audio.output_full_scale_v
    found = []
    for number in range(UNITS):
        bench.fixture.secure(f"{recipe.prefix}{number:05d}", limits.model.name)
        capture = bench.audio.play_and_record(
            output, on_meter=lambda _: None, stop=threading.Event()
        )
        found.append(recording_of(capture, station, sweep))
    return found


def reference_serial(recipe: Recipe, measured: list[Measured]) -> tuple[int, str]:
    """Return the unit whose response lies closest to the median of all."""
    curves = np.array([unit.readings.curves["response"].values for unit in measured])
    distance = np.sqrt(np.mean((curves - np.median(curves, axis=0)) ** 2, axis=1))
    number = int(np.argmin(distance))
    return number, f"{recipe.prefix}{number:05d}"


def reference_from(recording: Recording, limits: LimitFile) -> Reference:
    """Return the reference of one unit over the range of the response and one band beyond."""
    spectra = spectra_of(recording)
    table = limits.readings.response
    response = gated_transfer(spectra, "microphone", table.gate_s)
    margin = 2.0 ** (1.0 / 6.0)
    from_hz = max(table.from_hz / margin, limits.stimulus.faded_in_hz * 1.04)
    to_hz = min(table.to_hz * margin, limits.stimulus.stop_hz / 1.1)
    return reference_of(response, spectra.sweep, recording.distance_m, from_hz, to_hz)


def row(values: list[float]) -> str:
    """Return numbers as a TOML array that breaks before it is too wide to read."""
    lines, line = [], ""
    for value in values:
        word = f"{value:.6g}, "
        if len(line) + len(word) > 90:
            lines.append(line.rstrip())
            line = ""
        line += word
    return "[\n    " + "\n    ".join([*lines, line.rstrip()]) + "\n]"


def reference_text(serial: str, reference: Reference) -> str:
    """Return the reference table."""
    level_db = 20.0 * np.log10(np.abs(reference.response))
    phase_deg = np.rad2deg(np.angle(reference.response))
    return (
        f'[reference]\nunit = "{serial} (simulated, closest to the median of {UNITS})"\n'
        f"hz = {row(list(reference.frequency_hz))}\n"
        f"db = {row([round(float(value), 3) for value in level_db])}\n"
        f"deg = {row([round(float(value), 1) for value in phase_deg])}\n"
    )


def band_text(rule: CurveRule, measured: list[Measured], reference_db: dict[str, float]) -> str:
    """Return one band with a comment on where it came from."""
    first = measured[0].readings.curves[rule.reading]
    inside = first.frequency_hz <= rule.to_hz
    curves = np.array([unit.readings.curves[rule.reading].values[inside] for unit in measured])
    frequency_hz = first.frequency_hz[inside]
    if rule.mode == "relative":
        curves = curves - np.array([reference_db[f"{hz:.6g}"] for hz in frequency_hz])
    lower, upper = limits_of(curves, rule.widening)
    rows = breakpoints(frequency_hz, lower, upper, rule.per_octave, rule.widening.step)
    open_low = rule.sides == "upper"
    points = "\n".join(
        f"    [{hz:g}, {'-inf' if open_low else f'{low:g}'}, {high:g}]," for hz, low, high in rows
    )
    return (
        f"# median ± {rule.widening.sigmas:g} sigma of {UNITS} units, "
        f"at least ± {rule.widening.least:g}\n"
        f'[[bands]]\nreading = "{rule.reading}"\nmode = "{rule.mode}"\nscale = {rule.scale:g}\n'
        f"points = [\n{points}\n]\n"
    )


def number_text(rule: NumberRule, measured: list[Measured]) -> str:
    """Return the limits of one number."""
    values = np.array([[unit.readings.numbers[rule.reading].value] for unit in measured])
    lower, upper = limits_of(values, rule.widening)
    step = rule.widening.step
    low, high = np.floor(lower[0] / step) * step, np.ceil(upper[0] / step) * step
    return (
        f'[[numbers]]\nreading = "{rule.reading}"\nlower = {low:.6g}\nupper = {high:.6g}\n'
        f"scale = {rule.scale:g}\n{rule.absent}"
    )


def polarity_text(section: str) -> str:
    """Return the limit of a polarity: a correlation, so no spread is needed."""
    return (
        f'[[numbers]]\nreading = "polarity.{section}"\nlower = 0.7\nscale = 0.05\n'
        "# +1 right, -1 reversed, 0 silent\n"
    )


def limit_text(recipe: Recipe) -> str:
    """Return a model's whole limit file."""
    head = (HERE / f"{recipe.name}.head.toml").read_text()
    advice = (HERE / f"{recipe.name}.advice.toml").read_text()
    limits = without_limits(head)
    heard = recordings(recipe, limits)
    plan = plan_of(limits)
    number, serial = reference_serial(recipe, [measure(recording, plan) for recording in heard])
    reference = reference_from(heard[number], limits)
    measured = [measure(recording, replace(plan, reference=reference)) for recording in heard]
    for unit in measured:
        if unit.integrity or unit.readings.missing:
            raise SystemExit(f"{recipe.name}: {unit.integrity} {unit.readings.missing}")
    at_hz = measured[number].readings.curves["response"].frequency_hz
    level_db = np.interp(
        np.log(at_hz),
        np.log(reference.frequency_hz),
        20.0 * np.log10(np.abs(reference.response) * limits.readings.response.for_v / 20e-6),
    )
    reference_db = {f"{hz:.6g}": float(level) for hz, level in zip(at_hz, level_db, strict=True)}
    levels = tuple(NumberRule(f"level.{name}", LEVEL, 1.0) for name in recipe.sections)
    parts = [
        head.replace("DAY", date.today().isoformat()),
        reference_text(serial, reference),
        *(band_text(rule, measured, reference_db) for rule in recipe.curves),
        *(number_text(rule, measured) for rule in (*recipe.numbers, *levels)),
        *(polarity_text(section) for section in recipe.sections),
        advice,
    ]
    return "\n".join(part.rstrip() + "\n" for part in parts)


def without_limits(head: str) -> LimitFile:
    """Return the head alone as a limit file that judges nothing yet."""
    contents = tomllib.loads(head.replace("DAY", "2026-01-01"))
    return LimitFile.model_validate(contents)


def main() -> None:
    """Write all files into the folder named on the command line."""
    folder = Path(sys.argv[1])
    chosen = sys.argv[2:]
    for recipe in RECIPES:
        if not chosen or recipe.name in chosen:
            (folder / f"{recipe.name}.toml").write_text(limit_text(recipe), encoding="utf-8")


if __name__ == "__main__":
    main()
