"""What of a unit hardly shows in its impedance, to be said beside every diagnosis."""

from __future__ import annotations

import numpy as np

from station.analysis.arrays import FloatArray
from station.diagnosis.circuit.network import Mode, Network
from station.diagnosis.circuit.solver import impedance_slopes

# A part is blind if it could be off by so much, as the logarithm of a ratio, and stay below four
# standard deviations: about a half more, or a third less.
BLIND_FROM = 0.45
DETECTED_SIGMAS = 4.0
FREE_SIGMA = 6.0
OF_MODE = {
    Mode.FORCE: "its force factor",
    Mode.MASS: "its moving mass",
    Mode.STIFFNESS: "its stiffness",
    Mode.FRICTION: "its losses",
    Mode.VALUE: "its value",
    Mode.WAY_OUT: "a small leak",
}


def blind_spots(
    network: Network, frequency_hz: FloatArray, sigma: FloatArray
) -> tuple[tuple[str, str], ...]:
    """Return part and property of what the impedance cannot tell from the tolerance of the rest.

    Parameters
    ----------
    network : Network
        Any.
    frequency_hz, sigma : ndarray, shape (n,)
        Where the impedance is known, and how well, as a ratio.

    Returns
    -------
    tuple of pairs of str
        In the netlist's order.

    Raises
    ------
    ValueError
        If a frequency is not above zero.

    References
    ----------
    .. [1] The marginal of a normal distribution (JCGM 102:2011 has the algebra); the threshold is
       our own.
    """
    values = network.nominal[np.newaxis]
    _, over = impedance_slopes(network, values, frequency_hz)
    slopes = (over[0] / sigma).view(np.float64).T @ network.chain(values)[0]
    found = []
    for at, variable in enumerate(network.variables):
        if variable.mode not in OF_MODE:
            continue
        spread = network.sigma
        spread[at] = FREE_SIGMA
        scaled = slopes * spread
        covariance = np.linalg.inv(scaled.T @ scaled + np.eye(spread.size))
        if DETECTED_SIGMAS * np.sqrt(covariance[at, at]) * FREE_SIGMA > BLIND_FROM:
            found.append((variable.part, OF_MODE[variable.mode]))
    return tuple(found)
