"""The ball bearings of JCGM 106:2012, 9.5.4: a production whose true values are not normal.

Radial error motion in µm, gamma-distributed about 1 with standard deviation 0.5; at most 2
conforms, measured with a standard uncertainty of 0.25. Figures of the text as the example notebook
of the open package suncal repeats them.
"""

from __future__ import annotations

import numpy as np
from scipy.stats import gamma

from station.quality.statistics.globalrisk import GlobalRisk, global_risk

SHAPE, SCALE_UM = 4.0, 0.25
LARGEST_UM, MEASUREMENT_UM = 2.0, 0.25
PIECES, FARTHEST_UM = 1000, 6.0  # 4 in a billion lie further out


def bearing_risk(accepted_um: float) -> GlobalRisk:
    """Return the risks, of the production as a sum of narrow normal ones."""
    edges = np.linspace(0.0, FARTHEST_UM, PIECES + 1)
    shares = np.diff(gamma.cdf(edges, SHAPE, scale=SCALE_UM))
    width = float(edges[1])
    risks = [
        global_risk(
            float(middle),
            width / 2.0,
            MEASUREMENT_UM,
            (-np.inf, LARGEST_UM),
            (-np.inf, accepted_um),
        )
        for middle in edges[:-1] + width / 2.0
    ]
    summed = [
        float(shares @ [getattr(risk, name) for risk in risks])
        for name in ("consumer", "producer", "conforming")
    ]
    return GlobalRisk(*summed)
