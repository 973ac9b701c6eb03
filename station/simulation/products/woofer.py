"""A woofer in its box as one assembly, and the faults every model's woofer can have."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from station.simulation.physics.circuit import Branch
from station.simulation.physics.defects import Buzz, Defect, Leak, Rub
from station.simulation.physics.drivers import (
    Driver,
    sibling,
    with_cracked_magnet,
    with_stiff_surround,
    with_torn_surround,
    with_weak_magnet,
)
from station.simulation.physics.networks import CrossedLeads, Element
from station.simulation.physics.radiation import Radiator
from station.simulation.physics.speaker import Cone
from station.simulation.physics.warmth import Warmth
from station.simulation.products.spread import Spread, spread_driver, spread_radiator

LEAK_S, LEAK_AT_DB_SPL = 8e-3, 64.0  # a gap that hisses this loudly empties the box this fast
TEAR_RATIO, TEAR_AT_DB_SPL = 0.15, 62.0  # a tear of this share hisses this loudly
CRACK_RATIO, CRACK_AT_DB_SPL = 0.15, 60.0  # the chips of a crack of this size scrape this loudly


@dataclass(frozen=True, slots=True)
class Woofer:
    """Driver, radiation, wiring and defects; `loud_` is what the standard stimulus reaches."""

    driver: Driver
    radiator: Radiator
    loud_m: float
    loud_m_s2: float
    loose_part_hz: float
    crossed: bool = False
    defects: tuple[Defect, ...] = ()

    def branch(self, chain: tuple[Element, ...]) -> Branch:
        """Return the woofer behind its crossover."""
        wiring: tuple[Element, ...] = (CrossedLeads(),) if self.crossed else ()
        return Branch("woofer", (*chain, *wiring), self.driver)

    @property
    def cone(self) -> Cone:
        """The end that radiates, with its defects."""
        return Cone("woofer", self.radiator, self.defects)


def spread_woofer(woofer: Woofer, spread: Spread) -> Woofer:
    """Return a produced woofer."""
    return replace(
        woofer,
        driver=spread_driver(woofer.driver, spread, "woofer"),
        radiator=spread_radiator(woofer.radiator, spread, "woofer"),
        loose_part_hz=woofer.loose_part_hz * spread.factor("loose part", 0.3),
    )


def warmed_woofer(woofer: Woofer, warmth: Warmth) -> Woofer:
    """Return the woofer at another temperature."""
    return replace(
        woofer,
        driver=warmth.driver(woofer.driver),
        radiator=warmth.radiator(woofer.radiator),
    )


def crossed(woofer: Woofer, _severity: float) -> Woofer:
    """Return the woofer with swapped leads."""
    return replace(woofer, crossed=not woofer.crossed)


def coil_open(woofer: Woofer, _severity: float) -> Woofer:
    """Return the woofer with a broken voice coil."""
    return replace(woofer, driver=replace(woofer.driver, coil_open=True))


def shorted(woofer: Woofer, turns_ratio: float) -> Woofer:
    """Return the woofer with a share of its turns shorted."""
    return replace(woofer, driver=replace(woofer.driver, shorted_ratio=turns_ratio))


def weakened(woofer: Woofer, lost_ratio: float) -> Woofer:
    """Return the woofer with a weak magnet."""
    return replace(woofer, driver=with_weak_magnet(woofer.driver, lost_ratio))


def stiffened(woofer: Woofer, added_ratio: float) -> Woofer:
    """Return the woofer with a stiff surround."""
    return replace(woofer, driver=with_stiff_surround(woofer.driver, added_ratio))


def rubbing(woofer: Woofer, peak_db_spl: float) -> Woofer:
    """Return the woofer with a scraping coil."""
    return replace(woofer, defects=(*woofer.defects, Rub(peak_db_spl, woofer.loud_m)))


def buzzing(woofer: Woofer, peak_db_spl: float) -> Woofer:
    """Return the woofer with a loose part nearby."""
    buzz = Buzz(peak_db_spl, woofer.loose_part_hz, woofer.loud_m_s2)
    return replace(woofer, defects=(*woofer.defects, buzz))


def leaking(woofer: Woofer, peak_db_spl: float) -> Woofer:
    """Return the woofer in a box with a gap: the louder it hisses, the wider it is."""
    leak_s = LEAK_S * 10.0 ** ((LEAK_AT_DB_SPL - peak_db_spl) / 20.0)
    return replace(
        woofer,
        driver=replace(woofer.driver, box_leak_s=leak_s),
        defects=(*woofer.defects, Leak(peak_db_spl, woofer.loud_m)),
    )


def cracked(woofer: Woofer, lost_ratio: float) -> Woofer:
    """Return the woofer with a cracked magnet, whose chips scrape in the gap."""
    peak_db_spl = level_of(lost_ratio / CRACK_RATIO, CRACK_AT_DB_SPL)
    driver = with_cracked_magnet(woofer.driver, lost_ratio)
    return rubbing(replace(woofer, driver=driver), peak_db_spl)


def torn(woofer: Woofer, torn_ratio: float) -> Woofer:
    """Return the woofer with a torn surround, through which the box breathes."""
    hiss = Leak(level_of(torn_ratio / TEAR_RATIO, TEAR_AT_DB_SPL), woofer.loud_m)
    driver = with_torn_surround(woofer.driver, torn_ratio)
    return replace(woofer, driver=driver, defects=(*woofer.defects, hiss))


def level_of(ratio: float, at_db_spl: float) -> float:
    """Return the level of a noise so many times as strong as the one with a known level."""
    return at_db_spl + 20.0 * math.log10(ratio) if ratio > 0.0 else -math.inf


def mistaken(woofer: Woofer, number: float) -> Woofer:
    """Return another driver in the woofer's place."""
    return replace(woofer, driver=sibling(woofer.driver, round(number)))


WOOFER_CHANGES: Mapping[str, Callable[[Woofer, float], Woofer]] = {
    "reversed_woofer": crossed,
    "dead_woofer": coil_open,
    "shorted_turn": shorted,
    "weak_magnet": weakened,
    "stiff_surround": stiffened,
    "coil_rub": rubbing,
    "loose_part_buzz": buzzing,
    "air_leak": leaking,
    "cracked_magnet": cracked,
    "torn_surround": torn,
    "wrong_driver": mistaken,
}
