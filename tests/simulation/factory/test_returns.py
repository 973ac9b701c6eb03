"""A simulated unit comes back with one fault, and only the right part mends it."""

from __future__ import annotations

from station.simulation.factory.repairs import part_mends
from station.simulation.factory.returns import ReturnedUnits, fault_at_return
from station.simulation.faults import fault_of


def test_each_unit_has_one_possible_fault_and_always_the_same() -> None:
    found = [fault_at_return(3, f"F6A{number:05d}") for number in range(50)]
    assert found == [fault_at_return(3, f"F6A{number:05d}") for number in range(50)]
    assert all(len(one) == 1 for one in found)
    assert len({name for one in found for name in one}) > 5
    assert all("Fell 60" in fault_of(name).models for one in found for name in one)


def test_the_wrong_part_leaves_the_fault_and_the_right_one_mends_it() -> None:
    units = ReturnedUnits(1)
    assert units.faults_of("T2A00101") == {"reversed_woofer": 1.0}
    units.replaced("T2A00101", "tweeter")
    assert units.faults_of("T2A00101") == {"reversed_woofer": 1.0}
    units.replaced("T2A00101", "Woofer")
    assert units.faults_of("T2A00101") == {}


def test_a_part_of_the_crossover_is_mended_by_what_is_printed_on_it() -> None:
    mends = [
        part for part in ("C1", "C2", "L1", "L2", "R1") if part_mends("swapped_parts", 1, part)
    ]
    assert mends == ["C1", "C2"]
    assert part_mends("open_crossover_part", 3.0, "c2")
    assert not part_mends("open_crossover_part", 3.0, "C1")
    assert part_mends("drifted_resistor", 0.3, "the tweeter's resistor")
    assert not part_mends("dead_tweeter", 1.0, "C2")
