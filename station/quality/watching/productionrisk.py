"""Consumer's and producer's risk of a model's limits, for the production as it is."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from station.quality.statistics.globalrisk import GlobalRisk, global_risk
from station.quality.watching.numbers import Series

FEWEST = 20  # units, for the spread of a production to be known to a sixth


@dataclass(frozen=True, slots=True)
class ReadingRisk:
    """One number's risk in the long run, with what it stands on."""

    model: str
    reading: str
    unit: str
    n: int
    production: float  # standard deviation of true values
    measurement: float  # standard uncertainty
    tolerance: tuple[float, float]
    acceptance: tuple[float, float]
    risk: GlobalRisk


def production_risks(series: tuple[Series, ...], texts: Mapping[str, str]) -> Iterator[ReadingRisk]:
    """Yield the risk of every number whose limit file states its uncertainty as a value."""
    for one in series:
        if one.values.size < FEWEST:
            continue
        newest = max(one.runs, key=lambda run: run.seq)
        decision = tomllib.loads(texts[newest.limit_sha256]).get("decision")
        if decision is None:
            continue
        for table in decision["uncertainties"]:
            if table["reading"] == one.reading and "standard" in table:
                guard = table["standard"] * decision["k"] * decision.get("r", 0.0)
                yield from risk_of(one, float(table["standard"]), float(guard))


def risk_of(one: Series, measurement: float, guard: float) -> Iterator[ReadingRisk]:
    """Yield the risk of one number, unless measuring alone explains its spread."""
    variance = float(np.var(one.values, ddof=1)) - measurement**2
    if variance <= 0.0:
        return
    lower, upper = one.limits
    acceptance = lower + guard, upper - guard
    production = math.sqrt(variance)
    yield ReadingRisk(
        one.model,
        one.reading,
        one.unit,
        one.values.size,
        production,
        measurement,
        one.limits,
        acceptance,
        global_risk(float(np.mean(one.values)), production, measurement, one.limits, acceptance),
    )
