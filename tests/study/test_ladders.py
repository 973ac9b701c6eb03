from __future__ import annotations

import numpy as np
import pytest

from station.simulation.faults import FAULTS, Fault, fault_of
from station.study.ladders import SeverityLadder, ladders_of

EVERY = [ladder for fault in FAULTS for ladder in ladders_of(fault)]
GRADED = [ladder for ladder in EVERY if ladder.graded]


def names(ladders: list[SeverityLadder]) -> list[str]:
    return [ladder.name for ladder in ladders]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_every_fault_has_a_ladder_of_severities_it_can_have(fault: Fault) -> None:
    ladders = ladders_of(fault)
    assert ladders
    for ladder in ladders:
        assert ladder.severities
        assert all(fault.allows(severity) for severity in ladder.severities)
        if not ladder.of_station and fault.unit not in ("", "number"):
            assert 8 <= len(ladder.severities) <= 12
    planted = [severity for ladder in ladders for severity in ladder.severities]
    assert fault.default in planted


@pytest.mark.parametrize("ladder", GRADED, ids=names(GRADED))
def test_rungs_rise_from_harmless_to_gross_in_even_steps(ladder: SeverityLadder) -> None:
    positions = [ladder.position(severity) for severity in ladder.severities]
    steps = np.diff(positions)
    assert np.all(steps > 0.0)
    if not ladder.of_station:
        assert np.max(steps) < 1.3 * np.min(steps)  # severities are rounded to three digits
    for severity, position in zip(ladder.severities, positions, strict=True):
        assert ladder.severity(position) == pytest.approx(severity, rel=1e-12)


def test_a_share_that_may_have_either_sign_has_a_ladder_to_each_side() -> None:
    more, less = ladders_of(fault_of("wrong_capacitor"))
    assert (more.name, less.name) == ("wrong_capacitor more", "wrong_capacitor less")
    assert min(more.severities) > 0.0 > max(less.severities)
    assert less.severities[0] > less.severities[-1] >= -0.9


def test_a_factor_is_harmless_at_one() -> None:
    more, less = ladders_of(fault_of("wrong_filter_setting"))
    assert more.harmless == less.harmless == 1.0
    assert more.severities[0] == pytest.approx(1.02, abs=0.01)
    assert less.severities[0] == pytest.approx(0.98, abs=0.01)
    assert less.severities[-1] >= 0.2


def test_a_share_that_can_only_be_lost_has_one_ladder() -> None:
    (ladder,) = ladders_of(fault_of("shorted_turn"))
    assert ladder.name == "shorted_turn"
    assert ladder.severities[0] < 0.01
    assert ladder.severities[-1] > 0.3


def test_each_kind_of_a_numbered_fault_stands_alone() -> None:
    ladders = ladders_of(fault_of("open_crossover_part"))
    assert names(list(ladders)) == [f"open_crossover_part {number}" for number in (1, 2, 3, 4)]
    assert not any(ladder.graded for ladder in ladders)


def test_a_fault_of_the_station_needs_few_rungs_its_usual_severity_among_them() -> None:
    (ladder,) = ladders_of(fault_of("station_loud_room"))
    assert ladder.of_station
    assert fault_of("station_loud_room").default in ladder.severities
    assert len(ladder.severities) <= 4
