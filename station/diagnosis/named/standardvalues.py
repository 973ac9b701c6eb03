"""Preferred values of resistors, capacitors and coils: the E series of IEC 60063:2015."""

from __future__ import annotations

import math

E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
E24 = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
)  # fmt: skip


def nearest_standard(value: float, series: tuple[float, ...] = E12) -> float:
    """Return the preferred value that is nearest by ratio.

    Parameters
    ----------
    value : float
        Above zero, in any unit.
    series : tuple of float
        Preferred values of one decade.

    Returns
    -------
    float
        In the same unit.

    Raises
    ------
    ValueError
        If the value is not above zero.

    References
    ----------
    .. [1] IEC 60063:2015, tables of E12 and E24.
    """
    if not value > 0.0:
        raise ValueError(f"need a value above zero; got {value}")
    decade = math.floor(math.log10(value))
    candidates = [one * 10.0**power for power in (decade - 1, decade, decade + 1) for one in series]
    return min(candidates, key=lambda one: abs(math.log(one / value)))
