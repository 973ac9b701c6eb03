"""The sound pressure that levels are stated against."""

REFERENCE_PRESSURE_PA = 20e-6  # IEC 61672-1 and ISO 1683: p0 of airborne sound
