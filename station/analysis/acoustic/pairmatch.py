"""How alike two response curves are: the two units of a pair, or one unit then and now."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.signals.levelcurves import in_band, octave_weights


@dataclass(frozen=True, slots=True)
class PairMatch:
    """The difference of two curves, split into level and shape.

    Attributes
    ----------
    level_db : float
        Mean of second minus first over the band's octaves: positive if the second is louder.
    shape_max_db : float
        Largest magnitude of what is left of the difference without its level.
    shape_rms_db : float
        Root mean square of the same, over octaves.
    worst_hz : float
        Where `shape_max_db` stands; the lowest such frequency if there are several.
    worst_db : float
        The difference without its level there, with its sign.
    """

    level_db: float
    shape_max_db: float
    shape_rms_db: float
    worst_hz: float
    worst_db: float


def pair_match(
    frequency_hz: FloatArray,
    first_db: FloatArray,
    second_db: FloatArray,
    from_hz: float,
    to_hz: float,
) -> PairMatch:
    """Return how the second curve differs from the first.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Of both curves; rising, above zero.
    first_db, second_db : ndarray, shape (n,)
        Responses in dB: left and right unit of a pair, or one unit as built and now.
    from_hz, to_hz : float
        The band in which they are compared.

    Returns
    -------
    PairMatch
        Exchanging the curves changes the signs of `level_db` and `worst_db` and nothing else.

    Raises
    ------
    NoSignalError
        If a curve has no point in the band, or one that is not finite.
    ValueError
        If the shapes disagree, or frequencies or band do not rise.

    References
    ----------
    .. [1] Common practice, no source: pair tolerance as level plus shape.
    """
    if first_db.shape != second_db.shape or first_db.ndim != 1:
        raise ValueError(f"need two shapes (n,); got {first_db.shape} and {second_db.shape}")
    both = np.stack([first_db, second_db])
    inside_hz, levels = in_band(frequency_hz, both, from_hz, to_hz)
    weights = octave_weights(inside_hz)
    difference_db = levels[1] - levels[0]
    level_db = float(difference_db @ weights)
    shape_db = difference_db - level_db
    worst = int(np.argmax(np.abs(shape_db)))
    return PairMatch(
        level_db=level_db,
        shape_max_db=float(abs(shape_db[worst])),
        shape_rms_db=float(np.sqrt(shape_db**2 @ weights)),
        worst_hz=float(inside_hz[worst]),
        worst_db=float(shape_db[worst]),
    )
