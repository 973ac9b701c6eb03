"""What a repairer must have been told to look at, for a fault to be mended."""

from __future__ import annotations

from collections.abc import Mapping

CROSSOVER = ("crossover", "capacitor", "coil", "resistor")
NAMED: Mapping[str, tuple[str, ...]] = {
    "reversed_woofer": ("woofer",),
    "reversed_tweeter": ("tweeter",),
    "reversed_panel": ("panel",),
    "dead_woofer": ("woofer", "silent"),
    "dead_tweeter": ("tweeter",),
    "dead_panel": ("panel",),
    "missing_bias": ("bias",),
    "low_bias": ("bias",),
    "shorted_turn": ("shorted turn", "woofer"),
    "weak_magnet": ("woofer",),
    "cracked_magnet": ("woofer", "coil"),
    "stiff_surround": ("woofer",),
    "torn_surround": ("woofer", "leak"),
    "wrong_driver": ("woofer",),
    "coil_rub": ("woofer", "coil"),
    "loose_part_buzz": ("loose",),
    "air_leak": ("leak", "sealing"),
    "panel_arcing": ("arc",),
    "wrong_capacitor": CROSSOVER,
    "drifted_coil": CROSSOVER,
    "drifted_resistor": CROSSOVER,
    "drifted_woofer_capacitor": CROSSOVER,
    "drifted_woofer_coil": CROSSOVER,
    "open_crossover_part": CROSSOVER,
    "shorted_crossover_part": CROSSOVER,
    "swapped_parts": CROSSOVER,
    "wrong_filter_setting": ("filter",),
    "noisy_amplifier": ("amplifier",),
}

# What is printed on the parts of a crossover; of a numbered fault, by its number.
PRINTED: Mapping[str, tuple[str, ...]] = {
    "wrong_capacitor": ("C2",),
    "drifted_coil": ("L2",),
    "drifted_resistor": ("R1",),
    "drifted_woofer_capacitor": ("C1",),
    "drifted_woofer_coil": ("L1",),
    "swapped_parts": ("C1", "C2"),
}
NUMBERED: Mapping[int, str] = {1: "C1", 2: "L2", 3: "C2", 4: "L1"}


def part_mends(fault: str, severity: float, part: str) -> bool:
    """Return whether a fault is gone with a part, called by its designator or in words."""
    named = part.upper().replace(",", " ").split()
    printed = PRINTED.get(fault, ())
    if fault in ("open_crossover_part", "shorted_crossover_part"):
        printed = (NUMBERED[round(severity)],)
    return bool(set(named) & set(printed)) or advice_leads_to(fault, part)


def advice_leads_to(fault: str, advice: str) -> bool:
    """Return whether a sentence names the part that a fault is in."""
    said = advice.casefold()
    return any(part in said for part in NAMED[fault])
