"""How many wrong verdicts a decision rule gives in the long run, for a known production.

True values are normal about the production's mean, readings normal about the true value. Of all
units so many fail to conform and pass (the consumer's risk), and so many conform and fail (the
producer's): JCGM 106:2012, 9.5, equations 16 to 19.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr


@dataclass(frozen=True, slots=True)
class GlobalRisk:
    """Shares of all units, and the share that conforms."""

    consumer: float
    producer: float
    conforming: float


NODES, WEIGHTS = np.polynomial.legendre.leggauss(64)
FARTHEST = 9.0  # standard deviations of the production
PANELS = 24  # each with its own nodes, so that steep readings are followed


def global_risk(
    mean: float,
    production: float,
    measurement: float,
    tolerance: tuple[float, float],
    acceptance: tuple[float, float],
) -> GlobalRisk:
    """Return the risks.

    Parameters
    ----------
    mean, production : float
        Mean and standard deviation of the true values.
    measurement : float
        Standard uncertainty of a reading.
    tolerance, acceptance : tuple of float
        Lower and upper limits; infinite where a side is open.
    """
    if not (production > 0.0 and measurement > 0.0):
        raise ValueError("need a production and a measurement that vary")
    first, last = mean - FARTHEST * production, mean + FARTHEST * production
    lower, upper = max(tolerance[0], first), min(tolerance[1], last)

    def share(begin: float, end: float, *, accepted: bool) -> float:
        if end <= begin:
            return 0.0
        edges = np.linspace(begin, end, PANELS + 1)
        half = 0.5 * np.diff(edges)[:, None]
        true = 0.5 * (edges[1:] + edges[:-1])[:, None] + half * NODES
        density = np.exp(-0.5 * ((true - mean) / production) ** 2) / (
            production * math.sqrt(2.0 * math.pi)
        )
        inside = ndtr((acceptance[1] - true) / measurement) - ndtr(
            (acceptance[0] - true) / measurement
        )
        weight = inside if accepted else 1.0 - inside
        return float(np.sum(half * WEIGHTS * density * weight))

    conforming = ndtr((tolerance[1] - mean) / production) - ndtr((tolerance[0] - mean) / production)
    return GlobalRisk(
        share(first, lower, accepted=True) + share(upper, last, accepted=True),
        share(lower, upper, accepted=False),
        float(conforming),
    )
