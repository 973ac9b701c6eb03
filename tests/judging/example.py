"""A small limit file that the tests vary; its numbers are invented."""

from __future__ import annotations

LIMITS = """\
format = 1

[model]
name = "Tarn 2"
revision = "A"
serial = "T2A[0-9]{5}"
author = "A. Beck"
day = 2026-11-25
reason = "for tests"

[stimulus]
start_hz = 15.0
faded_in_hz = 19.0
stop_hz = 44000.0
duration_s = 1.0
level_v = 2.83
lead_in_s = 0.1
tail_s = 0.3
rate_hz = 96000.0

[repeats]
void = 2
noise = 3

[integrity]
level_tolerance_db = 1.0
silent_below_dbfs = -110.0
residual_db = -50.0
quiet_below_db_spl = 75.0

[readings.response]
from_hz = 100.0
to_hz = 10000.0
bands_per_octave = 3
gate_s = 0.2
for_v = 2.83

[readings.sensitivity]
from_hz = 200.0
to_hz = 5000.0

[[readings.sections]]
name = "woofer"
from_hz = 100.0
to_hz = 1000.0

[reference]
unit = "T2A00000"
hz = [50.0, 20000.0]
db = [-30.0, -30.0]
deg = [0.0, 0.0]

[[bands]]
reading = "response"
mode = "absolute"
scale = 1.0
points = [
    [100.0, 80.0, 90.0],
    [1000.0, 84.0, 88.0],
    [10000.0, 80.0, 90.0],
]

[[numbers]]
reading = "sensitivity"
lower = 85.0
upper = 87.0
scale = 1.0

[[numbers]]
reading = "polarity.woofer"
lower = 0.7
scale = 0.05

[[advice]]
when = [{reading = "polarity.woofer", side = "below"}, {reading = "response", side = "below"}]
say = "Woofer leads reversed: swap them at the woofer."

[[advice]]
when = [{reading = "response", side = "below", from_hz = 2000.0, by = 3.0, share = 0.5}]
say = "Tweeter silent: check its leads."

[[advice]]
when = [{reading = "response"}]
say = "Set aside for the listening check."
"""
