"""Worked examples of JCGM 106:2012, 7.3 and 7.4, from memory: the text was not at hand.

Measured value, standard uncertainty, lower and upper tolerance limit, published probability and
the digits it has. Whoever has the text may take the words "from memory" away.
"""

from __future__ import annotations

import math

EXAMPLES = {
    "a diode's breakdown, V": (-5.47, 0.05, -math.inf, -5.40, 0.92, 2),
    "a container's strength, kPa": (507.0, 8.6, 490.0, math.inf, 0.976, 3),
    "an oil's viscosity, mm²/s": (13.6, 1.8, 12.5, 16.3, 0.66, 2),
}
# Table 1: how many standard uncertainties inside one limit a value lies for some probabilities.
ONE_LIMIT = {0.80: 0.84, 0.90: 1.28, 0.95: 1.64, 0.99: 2.33, 0.999: 3.09}
