"""The gauge study of the NIST/SEMATECH e-Handbook, 2.4 and 2.6.1: resistivity of silicon wafers.

Five wafers as check standards, one probe (2362), six readings a day, six days, two runs a month
apart; Ω cm. Averages and standard deviations of the six readings, from MPC61.DAT as NIST's
Dataplot carries it. Published of it are level-1, -2 and -3 standard deviations: what varies within
minutes, from day to day, and from run to run.
"""

from __future__ import annotations

import numpy as np

READINGS = 6  # a day
DAYS = 6  # a run

AVERAGES = np.array(  # shape (5 wafers, 2 runs, 6 days)
    [
        [[95.1162, 95.0569, 95.0598, 95.1487, 95.0743, 95.1010],
         [95.1687, 95.1564, 95.1354, 95.0422, 95.1354, 95.1075]],
        [[99.2939, 99.3234, 99.2748, 99.3512, 99.2350, 99.3574],
         [99.3408, 99.3116, 99.3241, 99.2991, 99.3049, 99.2782]],
        [[96.0771, 95.9976, 96.0148, 96.0397, 96.0407, 96.0445],
         [96.0793, 96.1115, 96.0803, 96.0411, 96.0988, 96.0482]],
        [[101.0471, 101.0224, 101.0702, 101.0904, 101.0626, 101.0686],
         [101.1353, 101.1201, 101.0946, 100.9977, 101.0963, 101.0300]],
        [[94.2437, 94.2115, 94.2348, 94.2124, 94.2214, 94.1651],
         [94.2052, 94.2824, 94.2396, 94.2087, 94.2937, 94.2330]],
    ]
)  # fmt: skip

DEVIATIONS = np.array(
    [
        [[0.0480, 0.0577, 0.0516, 0.0386, 0.0256, 0.0420],
         [0.0785, 0.0430, 0.0983, 0.0773, 0.0587, 0.0776]],
        [[0.0818, 0.0723, 0.0756, 0.0475, 0.0517, 0.0485],
         [0.1279, 0.1131, 0.0519, 0.0903, 0.0783, 0.0718]],
        [[0.1024, 0.0943, 0.0622, 0.0702, 0.0627, 0.0622],
         [0.0996, 0.0533, 0.0364, 0.0768, 0.1042, 0.0868]],
        [[0.0320, 0.1020, 0.0580, 0.1049, 0.0702, 0.0661],
         [0.0585, 0.0868, 0.0855, 0.0645, 0.0638, 0.0549]],
        [[0.0503, 0.0919, 0.0282, 0.0513, 0.0627, 0.1010],
         [0.0813, 0.0605, 0.0882, 0.0702, 0.0591, 0.0556]],
    ]
)  # fmt: skip

# Of this probe from the mean of five, wafer by wafer in both runs, as published in 2.6.1.4.
BIASES = np.array(
    [-0.0372, -0.0094, -0.0261, -0.0252, -0.0383, -0.0508, -0.0657, -0.0398, -0.0534, -0.0469]
)


def readings_like(average: float, deviation: float) -> np.ndarray:
    """Return six readings with a published average and standard deviation."""
    steps = np.arange(READINGS) - (READINGS - 1) / 2.0
    readings: np.ndarray = average + deviation * steps / steps.std(ddof=1)
    return readings
