"""Air: how dense it is and how fast sound travels in it, at any temperature of a room."""

from __future__ import annotations

import math
from dataclasses import dataclass

ZERO_K = 273.15  # 0 °C
AT_C = 20.0  # of all values of parts and air without a temperature beside them


@dataclass(frozen=True, slots=True)
class Air:
    """Dry air at 101.325 kPa."""

    kg_m3: float
    sound_m_s: float

    @property
    def stiffness_pa(self) -> float:
        """Bulk modulus, which is the pressure times 1.4 and knows no temperature."""
        return self.kg_m3 * self.sound_m_s**2


AIR_20C = Air(1.204, 343.2)


def air_at(temperature_c: float) -> Air:
    """Return air at a temperature: an ideal gas under constant pressure (ISO 9613-1)."""
    warmer_ratio = (temperature_c + ZERO_K) / (AT_C + ZERO_K)
    return Air(AIR_20C.kg_m3 / warmer_ratio, AIR_20C.sound_m_s * math.sqrt(warmer_ratio))
