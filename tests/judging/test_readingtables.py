"""Each reading that a limit file can ask for becomes its part of the plan, or is refused."""

from __future__ import annotations

import re

import pytest

from station.analysis.gathering import all_names
from station.analysis.plan import (
    ClosedBoxPlan,
    DipolePlan,
    DriverPlan,
    FilterPlan,
    IdleNoisePlan,
    PanelPlan,
    needed_roles,
)
from station.analysis.statistics.uncertainty import Estimate
from station.errors import TextFileError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.files.planning import plan_of
from station.judging.tables.names import curve_names, number_names
from tests.judging.example import LIMITS

IMPEDANCE = """
[readings.impedance]
from_hz = 25.0
to_hz = 20000.0
bands_per_octave = 12
gate_s = 0.25
minimum_from_hz = 90.0
minimum_to_hz = 30000.0
rated_ohm = 6.0
"""
RESONANCE = "\n[readings.resonance]\nfrom_hz = 35.0\nto_hz = 100.0\n"
DRIVER = "\n[readings.driver]\nfrom_hz = 30.0\nto_hz = 5000.0\n"
BOX = """
[readings.closed_box]
free_fs_hz = 42.0
free_fs_uncertainty_hz = 0.5
free_qts = 0.4
free_qts_uncertainty = 0.01
"""
PANEL = "\n[readings.panel]\nfrom_hz = 8000.0\nto_hz = 30000.0\nturns_ratio = 75.0\n"
IDLE = "\n[readings.idle_noise]\nhum_orders = 8\n"
FILTER = """
[readings.filter]
kind = "low-pass"
passband_from_hz = 200.0
passband_to_hz = 1000.0
slope_from_hz = 4000.0
slope_to_hz = 9000.0
"""
DIPOLE = "\n[readings.dipole]\nfrom_hz = 300.0\nto_hz = 3000.0\nlongest_delay_s = 0.002\n"
LONG_LEAD_IN = LIMITS.replace("lead_in_s = 0.1", "lead_in_s = 0.25")
ALL = LONG_LEAD_IN + IMPEDANCE + RESONANCE + DRIVER + BOX + PANEL + IDLE + FILTER + DIPOLE


def faults_of(text: str) -> tuple[str, ...]:
    with pytest.raises(TextFileError) as refusal:
        limit_file_from_text(text, "x.toml")
    return refusal.value.faults


def test_every_table_becomes_its_part_of_the_plan() -> None:
    plan = plan_of(limit_file_from_text(ALL, "x.toml"))
    assert plan.impedance is not None
    assert plan.impedance.rated_ohm == 6.0
    assert plan.driver == DriverPlan(30.0, 5000.0)
    assert plan.closed_box == ClosedBoxPlan(Estimate(42.0, 0.5), Estimate(0.4, 0.01))
    assert plan.panel == PanelPlan(8000.0, 30000.0, 75.0)
    assert plan.idle_noise == IdleNoisePlan(8)
    assert plan.filter == FilterPlan("low-pass", 200.0, 1000.0, 4000.0, 9000.0)
    assert plan.dipole == DipolePlan(300.0, 3000.0, 0.002)
    assert needed_roles(plan) == ("microphone", "voltage", "current", "ambient", "rear")


def test_limits_can_name_what_is_computed_and_nothing_else() -> None:
    limits = limit_file_from_text(ALL, "x.toml")
    named = {*curve_names(limits.readings), *number_names(limits.readings)}
    assert named == set(all_names(plan_of(limits)))


def test_margins_decide_when_judged_and_not_when_measured() -> None:
    margin = "for_v = 2.83\nnoise_margin_db = 12.0\n"
    limits = limit_file_from_text(LIMITS.replace("for_v = 2.83\n", margin, 1), "x.toml")
    assert limits.readings.response.noise_margin_db == 12.0
    assert plan_of(limits).response == plan_of(limit_file_from_text(LIMITS, "x.toml")).response


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (LIMITS + RESONANCE, "resonance needs the impedance table"),
        (LIMITS + IMPEDANCE + DRIVER, "driver needs the resonance table"),
        (LIMITS + IMPEDANCE + RESONANCE + BOX, "closed_box needs the driver table"),
        (LIMITS + PANEL, "panel needs the impedance table"),
        (LIMITS + IMPEDANCE + PANEL.replace("30000.0", "40000.0"), "panel reaches beyond"),
        (
            LIMITS + IMPEDANCE + RESONANCE + DRIVER.replace("= 30.0", "= 20.0"),
            "driver reaches beyond",
        ),
        (LIMITS + FILTER.replace("9000.0", "12000.0"), "filter reaches beyond the response"),
        (LIMITS + FILTER.replace("low-pass", "high-pass"), "must rise and not overlap"),
        (LIMITS + FILTER.replace("4000.0", "900.0"), "must rise and not overlap"),
        (LIMITS + FILTER.replace("low-pass", "band-pass"), "readings.filter.kind"),
        (LIMITS + IDLE, "stimulus.lead_in_s: idle noise needs 0.25 s or more"),
        (LONG_LEAD_IN + IDLE.replace("8", "0"), "readings.idle_noise.hum_orders"),
        (LIMITS + DIPOLE.replace("0.002", "-1.0"), "readings.dipole.longest_delay_s"),
        (LIMITS + DIPOLE.replace("3000.0", "45000.0"), "lies above the sweep's"),
        (LIMITS + IMPEDANCE.replace("= 6.0", "= 0.0"), "readings.impedance.rated_ohm"),
        (LIMITS + IMPEDANCE + PANEL.replace("turns_ratio", "turns"), "turns"),
    ],
)
def test_what_cannot_be_read_is_refused(text: str, words: str) -> None:
    assert any(words in fault for fault in faults_of(text))


@pytest.mark.parametrize("slip", ["gate_s = 100000000000000000000", "for_v = 1e-308"])
def test_a_number_no_station_could_use_is_refused_at_its_line(slip: str) -> None:
    name = slip.split(maxsplit=1)[0]
    text = re.sub(rf"^{name} = .*$", slip, LIMITS, count=1, flags=re.MULTILINE)
    assert text != LIMITS
    with pytest.raises(TextFileError) as refusal:
        limit_file_from_text(text, "x.toml")
    assert any(name in fault for fault in refusal.value.faults)
