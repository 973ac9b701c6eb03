"""Write the demo limit files, and the populations beside them, from simulated good units.

    ./.run python -m tests.demo_limits.write limits [tarn2 fell60 scree12]

Stimulus, readings and advice of a model are written by hand in `<model>.head.toml` and
`<model>.advice.toml` beside this file; reference, bands, numbers and pattern come from the units.
"""

from __future__ import annotations

import sys
import tomllib
from datetime import date
from pathlib import Path

import numpy as np

from station.analysis.plan import Reference
from station.analysis.statistics.pattern import farthest_good
from station.analysis.statistics.population import pattern_model
from station.judging.files.patternfile import Pattern, write_pattern
from station.judging.tables.tables import LimitFile
from station.quality.learning.reference import reference_values
from tests.demo_limits.envelopes import Rarity, breakpoints, limits_of
from tests.demo_limits.production import Production, produced
from tests.demo_limits.recipes import RECIPES, CurveRule, NumberRule, Recipe
from tests.demo_limits.release import release_all

HERE = Path(__file__).parent


def reference_text(serial: str, reference: Reference) -> str:
    """Return the reference table."""
    values = reference_values(f"{serial} (simulated, closest to the median)", reference)
    return "[reference]\n" + "".join(f"{name} = {value}\n" for name, value in values.items())


def band_text(rule: CurveRule, made: Production, for_v: float, rarity: Rarity) -> str:
    """Return one band with a comment on where it came from."""
    frequency_hz = made.measured[0].readings.curves[rule.reading].frequency_hz
    curves = made.curves(rule.reading)
    if rule.mode == "relative":
        known = made.reference
        level_db = 20.0 * np.log10(np.abs(known.response) * for_v / 20e-6)
        curves = curves - np.interp(np.log(frequency_hz), np.log(known.frequency_hz), level_db)
    lower, upper = limits_of(curves, rule.widening, rarity)
    rows = breakpoints(frequency_hz, lower, upper, rule.per_octave, rule.widening.step)
    open_low = rule.sides == "upper"
    points = "\n".join(
        f"    [{hz:g}, {'-inf' if open_low else f'{low:g}'}, {high:g}]," for hz, low, high in rows
    )
    sigmas = rarity.sigmas(curves, noisy=rule.widening.noisy)
    return (
        f"# median ± {sigmas:.1f} sigma of {len(made.serials)} units, "
        f"at least ± {rule.widening.least:g}\n"
        f'[[bands]]\nreading = "{rule.reading}"\nmode = "{rule.mode}"\nscale = {rule.scale:g}\n'
        f"points = [\n{points}\n]\n"
    )


def number_text(rule: NumberRule, made: Production, rarity: Rarity) -> str:
    """Return the limits of one number."""
    lower, upper = limits_of(made.numbers(rule.reading), rule.widening, rarity)
    step = rule.widening.step
    low, high = np.floor(lower[0] / step) * step, np.ceil(upper[0] / step) * step
    below = "" if rule.sides == "upper" else f"lower = {low:.6g}\n"
    return (
        f'[[numbers]]\nreading = "{rule.reading}"\n{below}upper = {high:.6g}\n'
        f"scale = {rule.scale:g}\n{rule.more}"
    )


def polarity_text(section: str) -> str:
    """Return the limit of a polarity: a correlation, so no spread is needed."""
    return (
        f'[[numbers]]\nreading = "polarity.{section}"\nlower = 0.7\nscale = 0.05\n'
        "# +1 right, -1 reversed, 0 silent\n"
    )


def pattern_texts(recipe: Recipe, made: Production, folder: Path) -> tuple[str, str]:
    """Write the population's file; return the table that names it and the limits of its numbers."""
    frequency_hz = made.measured[0].readings.curves["response"].frequency_hz
    model = pattern_model(
        frequency_hz, made.curves("response"), made.serials, recipe.explained_ratio
    )
    name = f"{recipe.name}.pattern.json"
    sha256 = write_pattern(folder / name, Pattern("response", model))
    table = (
        f"# {model.mode_spread.size} modes of {len(made.serials)} units; learned again, it is "
        f'another file with another hash\n[readings.pattern]\nfile = "{name}"\n'
        f'sha256 = "{sha256}"\ncurve = "response"\n'
    )
    farthest = farthest_good(model, 1.0 / recipe.one_pattern)
    limits = "\n".join(
        f"# one good unit in {recipe.one_pattern:.0f} lies further out\n"
        f'[[numbers]]\nreading = "{reading}"\nupper = {sigma:.3g}\nscale = 20\n'
        for reading, sigma in zip(("pattern.modes", "pattern.rest"), farthest, strict=True)
        if reading in recipe.patterns
    )
    return table, limits


def limit_text(recipe: Recipe, folder: Path) -> str:
    """Return a model's whole limit file; its pattern file is written."""
    head = (HERE / f"{recipe.name}.head.toml").read_text()
    advice = (HERE / f"{recipe.name}.advice.toml").read_text()
    limits = without_limits(head)
    made = produced(recipe.prefix, limits, recipe.units)
    pattern_table, pattern_limits = pattern_texts(recipe, made, folder)
    for_v = limits.readings.response.for_v
    parts = [
        head.replace("DAY", date.today().isoformat()).replace("UNITS", str(recipe.units)),
        pattern_table,
        reference_text(made.reference_serial, made.reference),
        *(band_text(rule, made, for_v, recipe.rarity) for rule in recipe.curves),
        *(number_text(rule, made, recipe.rarity) for rule in recipe.numbers),
        *(polarity_text(section) for section in recipe.sections),
        recipe.fixed,
        pattern_limits,
        advice,
    ]
    return "\n".join(part.rstrip() + "\n" for part in parts if part)


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
            text = limit_text(recipe, folder)
            (folder / f"{recipe.name}.toml").write_text(text, encoding="utf-8")
    release_all(folder)


if __name__ == "__main__":
    main()
