"""What good units teach: their mean is taken out, whatever the designer believed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from station.diagnosis.diagnose import diagnosis_of, model_of_parts
from station.diagnosis.learning import learned_netlist
from station.diagnosis.named.suspect import Finding
from tests.diagnosis.netlists import netlist, sections
from tests.diagnosis.scoring import readings_of
from tests.diagnosis.truth import saved


def readings() -> list:
    answers, rng = saved(), np.random.default_rng(4)
    return [readings_of(answers["two_way_hz"], row, rng) for row in answers["two_way_good"]]


def test_a_coil_that_no_drawing_has_is_found_from_good_units() -> None:
    designed = netlist("two_way")
    woofer, tweeter = designed.drivers
    guessed = woofer.model_copy(update={"coil_ohm_sn": 0.9 * woofer.coil_ohm_sn})
    wrong = designed.model_copy(update={"drivers": (guessed, tweeter)})
    taught = learned_netlist(wrong, sections("two_way"), readings())
    learned = taught.learned
    assert learned is not None
    assert learned.units == len(readings())
    assert len(learned.hz) == len(learned.real) == len(learned.spread)
    # The truth is 6e-3 and 0.66, known to ngspice alone; the two are only seen together.
    found = taught.drivers[0].coil_ohm_sn * (2e3 * math.pi) ** taught.drivers[0].coil_exponent
    assert found == pytest.approx(6e-3 * (2e3 * math.pi) ** 0.66, rel=0.02)
    unit = readings()[0]
    before = model_of_parts(wrong, sections("two_way"), unit)
    after = model_of_parts(taught, sections("two_way"), unit)
    assert diagnosis_of(after, unit, None).finding is Finding.NOTHING
    assert before is not None


def test_few_units_teach_nothing() -> None:
    with pytest.raises(ValueError, match="need 25 units"):
        learned_netlist(netlist("two_way"), sections("two_way"), readings()[:24])
