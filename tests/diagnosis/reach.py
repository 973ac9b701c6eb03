"""How many of the planted faults anything could find behind the tolerances and the noise.

A test that knows which fault to look for, and how large it is, does best (Neyman and Pearson,
Phil. Trans. R. Soc. A 231, 1933, from memory). The fault moves the measurement by some standard
deviations of what noise and the tolerances of all other parts do together; of units moved by d the
best test finds the share Phi(d - z), where a good one lies above z as rarely as is allowed. What
the fault does is ngspice's word, on a unit that is nominal otherwise; the tolerances are normal.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from station.analysis.readings import Readings
from station.diagnosis.fits.fitting import good_fit
from station.diagnosis.measured import evidence_of
from tests.diagnosis.decks import Unit
from tests.diagnosis.netlists import netlist
from tests.diagnosis.production import Fault, with_field
from tests.diagnosis.scoring import model_of_network

ALLOWED_SHARE = 0.007  # of good units that may get a suspect

FloatArray = NDArray[np.float64]


def alone(name: str, fault: Fault) -> Unit:
    """Return a unit that is nominal but for one fault."""
    nominal = netlist(name)
    if fault.how in ("open", "bridged"):
        broken = {"opened" if fault.how == "open" else "bridged": frozenset({fault.part})}
        return Unit(nominal, **broken)
    table = next(one for one in nominal.parts if one.name == fault.part)
    value = getattr(table, fault.how) * fault.ratio
    return Unit(
        with_field(nominal, fault.part, lambda one: one.model_copy(update={fault.how: value}))
    )


def reachable_share(name: str, clean: Sequence[Readings]) -> float:
    """Return the share found at best, from readings of such units without noise."""
    model = model_of_network(name, clean[0])
    moved = [
        good_fit(model.network, evidence_of(one, model.netlist, model.network), model.hypotheses[0])
        for one in clean
    ]
    d = np.sqrt([chi_square for _, _, chi_square in moved])
    return float(np.mean(norm.cdf(d - norm.isf(ALLOWED_SHARE))))
