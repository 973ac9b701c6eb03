"""What was measured of a unit, in the form in which a network is compared with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray, read_only


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Impedance, and levels of sections where they were measured.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising.
    ln_z : ndarray, shape (n,)
        Complex logarithm of Z in ohm, less what good units show beyond the model.
    sigma : ndarray, shape (n,)
        Standard deviation of its real and of its imaginary part.
    level_db, level_sigma_db : ndarray, shape (n_outputs,)
        Level of each output against a good unit's; NaN where there is none.
    nominal_db : ndarray, shape (n_outputs,)
        What the network says of a nominal unit's levels, of which the absolute means nothing.
    """

    frequency_hz: FloatArray
    ln_z: ComplexArray
    sigma: FloatArray
    level_db: FloatArray
    level_sigma_db: FloatArray
    nominal_db: FloatArray

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "ln_z", "sigma", "level_db", "level_sigma_db", "nominal_db"):
            object.__setattr__(self, name, read_only(getattr(self, name)))
        if not np.all(np.isfinite(self.ln_z)):
            raise ValueError("the impedance must be finite and not zero")

    @property
    def count(self) -> int:
        """How many independent values there are."""
        return 2 * self.ln_z.size + int(np.count_nonzero(np.isfinite(self.level_db)))
