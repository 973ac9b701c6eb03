"""What surrounds a unit while it is tested: temperature, where the microphone stands, and bias."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Conditions:
    """Circumstances of one test; the usual ones leave every unit as its parts were drawn.

    Attributes
    ----------
    temperature_c : float
        Of the room and of the unit that has stood in it.
    angle_deg : float
        To which side of the unit's axis the microphone stands, in the horizontal plane; a
        microphone in the role `rear` stands opposite.
    bias_on_s : float
        How long a panel's bias has been switched on when the stimulus begins.
    """

    temperature_c: float = 20.0
    angle_deg: float = 0.0
    bias_on_s: float = math.inf


USUAL = Conditions()
