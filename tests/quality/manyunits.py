"""Units drawn by chance, so many and so odd that every branch of judging is met."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from station.analysis.readings import Curve, Number, Readings
from station.analysis.signals.bands import band_centres
from station.judging.files.limit_file import limit_file_from_text
from tests.judging.example import LIMITS

RESPONSE_HZ = band_centres(100.0, 10000.0, 3)
THD_HZ = band_centres(200.0, 2000.0, 3)
WHY = ("It could not be computed.", "Test the unit again.")

# Every mode, both kinds of forgiveness, every kind of noise margin, and a fail by absence.
EVERY_BRANCH = (
    LIMITS.replace("for_v = 2.83", "for_v = 2.83\nnoise_margin_db = 15.0")
    .replace(
        "[readings.sensitivity]",
        "[readings.distortion]\nfrom_hz = 200.0\nto_hz = 2000.0\nbands_per_octave = 3\n"
        "orders = [2]\nnoise_margin_db = 3.0\n\n[readings.impedance]\nfrom_hz = 100.0\n"
        "to_hz = 10000.0\nbands_per_octave = 3\ngate_s = 0.2\nminimum_from_hz = 100.0\n"
        "minimum_to_hz = 10000.0\n\n[readings.resonance]\nfrom_hz = 100.0\nto_hz = 500.0\n\n"
        "[readings.idle_noise]\nhum_orders = 3\nnoise_margin_db = 3.0\n\n[readings.sensitivity]",
    )
    .replace("lead_in_s = 0.1", "lead_in_s = 0.3")
    .replace("db = [-30.0, -30.0]", "db = [-17.0, -17.0]")
    .replace(
        "[[numbers]]",
        """\
[[bands]]
reading = "response"
mode = "relative"
scale = 2.0
forgive_octaves = 0.5
points = [[200.0, -2.0, 2.0], [2000.0, -1.5, 1.5], [5000.0, -2.5, 2.5]]

[[bands]]
reading = "response"
mode = "floating"
scale = 0.7
offset_db = 1.0
forgive_depth = 0.3
points = [[100.0, -2.0, 2.0], [10000.0, -2.0, 2.0]]

[[bands]]
reading = "thd"
mode = "absolute"
scale = 3.0
points = [[200.0, -inf, -38.0], [2000.0, -inf, -39.0]]

[[numbers]]
reading = "idle_noise"
upper = 31.0
scale = 1.0

[[numbers]]
reading = "fs"
lower = 50.0
upper = 56.0
scale = 2.0
absent = "fail"

[[numbers]]
reading = "level.woofer"
lower = -1.0
upper = 1.0
scale = 1.0

[[numbers]]""",
        1,
    )
)
FILE = limit_file_from_text(EVERY_BRANCH, "x.toml")
ABSOLUTE = limit_file_from_text(LIMITS, "x.toml")


def drawn_readings(rng: np.random.Generator, oddness: float = 0.05) -> Readings:
    """Return one unit around good, with odd things at a stated rate."""

    def odd() -> bool:
        return bool(rng.random() < oddness)

    level = 86.0 + 0.5 * rng.standard_normal()
    response = level + 0.5 * rng.standard_normal(RESPONSE_HZ.size)
    if odd():
        response[int(rng.integers(response.size))] += rng.choice([-8.0, -3.0, 3.0, 8.0])
    if odd():
        response[int(rng.integers(response.size))] = rng.choice([np.nan, np.inf, -np.inf])
    noise = rng.choice([40.0, 65.0, 69.0], p=[0.8, 0.1, 0.1]) + rng.standard_normal(response.size)
    thd = -45.0 + 2.5 * rng.standard_normal(THD_HZ.size)
    curves = {
        "response": Curve(RESPONSE_HZ, response, "dB"),
        "noise.response": Curve(RESPONSE_HZ, noise, "dB"),
        "thd": Curve(THD_HZ, thd, "dB"),
        "noise.thd": Curve(THD_HZ, thd - rng.choice([20.0, 2.0], p=[0.7, 0.3]), "dB"),
    }
    idle = 28.0 + 1.5 * rng.standard_normal()
    numbers = {
        "idle_noise": Number(idle, "dB"),
        "noise.idle_noise": Number(idle - rng.choice([10.0, 1.0]), "dB"),
        "fs": Number(53.0 + rng.standard_normal(), "Hz"),
        "level.woofer": Number(0.4 * rng.standard_normal(), "dB"),
        "sensitivity": Number(86.0 + 0.4 * rng.standard_normal(), "dB"),
        "polarity.woofer": Number(-1.0 if odd() else 0.99, "ratio"),
    }
    missing = {}
    for name in list(numbers):
        if rng.random() < 0.2 * oddness:
            del numbers[name]
            if rng.random() < 0.7:
                missing[name] = WHY
        elif rng.random() < 0.1 * oddness:
            numbers[name] = replace(numbers[name], value=float(rng.choice([np.nan, np.inf])))
    for name in list(curves):
        if rng.random() < 0.1 * oddness:
            del curves[name]
    return Readings(numbers, curves, missing)
