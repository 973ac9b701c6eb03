"""Noise voids only where noise is to blame: good units, silent ones and loud rooms."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from station.analysis.measure import Measured
from station.analysis.readings import Curve, Number, Readings
from station.judging.files.limit_file import limit_file_from_text
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.judge import judge
from station.judging.verdicts.signaltonoise import WAIT
from station.judging.verdicts.verdict import Judgement, Verdict
from tests.judging.example import LIMITS

# Nominal octave mid-bands, ISO 266:1997, table 1.
OCTAVES_HZ = np.array([125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0])
# The example's band is 80 to 90 dB at 100 Hz, 84 to 88 dB at 1 kHz, 80 to 90 dB at 10 kHz; its
# sensitivity 85 to 87 dB, its woofer at least +0.7; its reference -30 dB re 1 Pa/V, at 2.83 V
# 73.0 dB re 20 µPa.
WITH_MARGIN = LIMITS.replace("for_v = 2.83\n", "for_v = 2.83\nnoise_margin_db = 15.0\n", 1)


def limits_with(extra: str = "", text: str = WITH_MARGIN) -> LimitFile:
    return limit_file_from_text(text + extra, "x.toml")


def judged(
    response: list[float] | None = None,
    noise: list[float] | None = None,
    *,
    file: LimitFile | None = None,
    curves: dict[str, Curve] | None = None,
    numbers: dict[str, Number] | None = None,
    missing: dict[str, tuple[str, str]] | None = None,
) -> Judgement:
    found: dict[str, Any] = {
        "response": Curve(OCTAVES_HZ, np.array(response or [86.0] * 7), "dB"),
        "noise.response": Curve(OCTAVES_HZ, np.array(noise or [40.0] * 7), "dB"),
    }
    known = {"sensitivity": Number(86.0, "dB"), "polarity.woofer": Number(0.99, "ratio")}
    readings = Readings(known | (numbers or {}), found | (curves or {}), missing or {})
    return judge(Measured(readings, ()), file or limits_with())


def test_a_good_unit_in_a_quiet_room_passes() -> None:
    assert judged().verdict is Verdict.PASS


def test_a_good_unit_beside_noise_is_void_and_the_frequency_is_named() -> None:
    # At 125 Hz the lower limit is 80 + 4 log10(1.25) = 80.39 dB: 10.39 dB above 70 dB of noise.
    judgement = judged(noise=[70.0, 40, 40, 40, 40, 40, 40])
    assert judgement.verdict is Verdict.VOID
    cause = judgement.causes[0]
    assert (cause.reading, cause.side, cause.at_hz) == ("response", "untrusted", 125.0)
    assert cause.happened == (
        "The response of a good unit at 125 Hz is only 10.4 dB above the noise; "
        "15.0 dB above it are needed."
    )
    assert judgement.next_step == WAIT
    assert judgement.margins["response"].value == pytest.approx(2.0)


def test_without_a_margin_noise_is_not_asked() -> None:
    file = limits_with(text=LIMITS)
    assert judged(noise=[70.0] * 7, file=file).verdict is Verdict.PASS


def test_a_silent_unit_in_a_quiet_room_fails() -> None:
    # It stands in the noise itself, 40 dB below a good unit.
    judgement = judged([40.0] * 7, numbers={"sensitivity": Number(40.0, "dB")})
    assert judgement.verdict is Verdict.FAIL
    assert {cause.reading for cause in judgement.causes} == {"response", "sensitivity"}


def test_noise_that_fills_a_gap_does_not_let_it_pass() -> None:
    # The section above 2 kHz is dead, and what is heard there is noise at the level of a good unit.
    judgement = judged(noise=[40.0, 40, 40, 40, 86, 86, 86])
    assert judgement.verdict is Verdict.VOID
    assert "below the noise" in judgement.causes[0].happened


def test_a_certain_fail_stays_one_however_noisy_another_band_is() -> None:
    judgement = judged([86.0, 86, 86, 86, 86, 86, 70], [70.0, 40, 40, 40, 40, 40, 40])
    assert judgement.verdict is Verdict.FAIL
    assert judgement.causes[0].at_hz == 8000.0
    # What noise may have done is not shown as a violation.
    both = judged([70.0, 86, 86, 86, 86, 86, 70], [70.0, 40, 40, 40, 40, 40, 40])
    assert both.bands["response"].outside.tolist() == [0, 0, 0, 0, 0, 0, 1]


def test_a_fail_that_noise_may_have_made_is_void() -> None:
    assert judged([70.0, *[86.0] * 6], [68.0, *[40.0] * 6]).verdict is Verdict.VOID


def test_a_reading_far_above_the_noise_is_too_loud_in_any_room() -> None:
    judgement = judged([110.0, *[86.0] * 6], [70.0, *[40.0] * 6])
    assert judgement.verdict is Verdict.FAIL
    assert judgement.causes[0].side == "above"


def test_what_is_read_from_the_response_needs_its_margin_too() -> None:
    # 63 dB of noise is 10 dB below the reference in the woofer's band, 17 dB below the response.
    low = [63.0, 63.0, 63.0, 63.0, 40.0, 40.0, 40.0]
    judgement = judged(noise=low, numbers={"polarity.woofer": Number(-0.9, "ratio")})
    assert judgement.verdict is Verdict.VOID
    assert [cause.reading for cause in judgement.causes] == ["sensitivity", "polarity.woofer"]
    assert judgement.causes[1].at_hz is None
    assert "only 10.0 dB above the noise" in judgement.causes[1].happened


def test_noise_that_is_not_known_voids_where_it_is_needed() -> None:
    why = {"noise.response": ("The silence is too short.", "Lengthen it.")}
    readings = Readings(
        {"sensitivity": Number(86.0, "dB"), "polarity.woofer": Number(0.99, "ratio")},
        {"response": Curve(OCTAVES_HZ, np.full(7, 86.0), "dB")},
        why,
    )
    judgement = judge(Measured(readings, ()), limits_with())
    assert judgement.verdict is Verdict.VOID
    assert judgement.next_step == "Lengthen it."
    assert judge(Measured(readings, ()), limits_with(text=LIMITS)).verdict is Verdict.PASS


THD = """
[readings.distortion]
from_hz = 125.0
to_hz = 2000.0
bands_per_octave = 1
orders = [2, 3]
noise_margin_db = 3.0

[[bands]]
reading = "thd"
mode = "absolute"
scale = 3.0
points = [[125.0, -inf, -40.0], [2000.0, -inf, -40.0]]
"""


@pytest.mark.parametrize(
    ("thd_db", "noise_db", "verdict"),
    [
        (-50.0, -50.0, Verdict.PASS),  # all of it noise, and still inside
        (-39.0, -41.0, Verdict.VOID),  # outside, but noise alone would nearly be
        (-39.0, -50.0, Verdict.FAIL),
        (-20.0, -38.0, Verdict.FAIL),  # far above a noise that is outside by itself
    ],
)
def test_distortion_fails_only_above_the_noise(
    thd_db: float, noise_db: float, verdict: Verdict
) -> None:
    hz = OCTAVES_HZ[:5]
    judgement = judged(
        file=limits_with(THD),
        curves={
            "thd": Curve(hz, np.full(5, thd_db), "dB"),
            "noise.thd": Curve(hz, np.full(5, noise_db), "dB"),
        },
    )
    assert judgement.verdict is verdict
    if verdict is Verdict.VOID:
        assert judgement.causes[0].happened.startswith("The thd at 125 Hz is only 2.0 dB above")


IDLE = """
[readings.idle_noise]
hum_orders = 8
noise_margin_db = 3.0

[[numbers]]
reading = "idle_noise"
upper = 40.0
scale = 3.0
"""


@pytest.mark.parametrize(
    ("idle_db", "room_db", "verdict"),
    [
        (39.0, 45.0, Verdict.PASS),
        (44.0, 43.0, Verdict.VOID),  # the room, not the unit
        (44.0, 30.0, Verdict.FAIL),
    ],
)
def test_idle_noise_fails_only_above_the_room(
    idle_db: float, room_db: float, verdict: Verdict
) -> None:
    text = WITH_MARGIN.replace("lead_in_s = 0.1", "lead_in_s = 0.25")
    judgement = judged(
        file=limits_with(IDLE, text),
        numbers={"idle_noise": Number(idle_db, "dB"), "noise.idle_noise": Number(room_db, "dB")},
    )
    assert judgement.verdict is verdict


def test_a_noisy_unit_fails_and_is_not_called_a_noisy_room() -> None:
    # Its own noise drowns the response; the ambient microphone says that it is the unit's.
    text = WITH_MARGIN.replace("lead_in_s = 0.1", "lead_in_s = 0.25")
    judgement = judged(
        noise=[75.0] * 7,
        file=limits_with(IDLE, text),
        numbers={"idle_noise": Number(70.0, "dB"), "noise.idle_noise": Number(30.0, "dB")},
    )
    assert judgement.verdict is Verdict.FAIL
    assert [cause.reading for cause in judgement.causes] == ["idle_noise"]


def test_a_number_that_is_not_finite_is_void_before_noise_is_asked() -> None:
    judgement = judged(noise=[70.0] * 7, numbers={"sensitivity": Number(math.nan, "dB")})
    assert [cause.side for cause in judgement.causes] == ["missing"]


def test_the_filter_and_the_pattern_need_it_at_every_point() -> None:
    extra = """
[readings.filter]
kind = "high-pass"
passband_from_hz = 500.0
passband_to_hz = 4000.0
slope_from_hz = 100.0
slope_to_hz = 300.0

[[numbers]]
reading = "filter_corner"
lower = 90.0
upper = 110.0
scale = 5.0
"""
    corner = {"filter_corner": Number(100.0, "Hz")}
    noise = [60.0, 40, 40, 40, 40, 40, 40]  # 13 dB below the reference at 125 Hz alone
    judgement = judged(noise=noise, file=limits_with(extra), numbers=corner)
    assert [cause.reading for cause in judgement.causes] == ["filter_corner"]
    assert judgement.causes[0].at_hz == 125.0
    assert judged(file=limits_with(extra), numbers=corner).verdict is Verdict.PASS


def test_nothing_else_changes_where_no_noise_is() -> None:
    low = [86.0, 86, 86, 86, 80, 78, 77]
    with_margin, without = judged(low), judged(low, file=limits_with(text=LIMITS))
    assert with_margin.causes == without.causes
    assert with_margin.next_step == without.next_step
    assert dict(with_margin.margins) == dict(without.margins)
