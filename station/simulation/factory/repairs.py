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


def advice_leads_to(fault: str, advice: str) -> bool:
    """Return whether a sentence names the part that a fault is in."""
    said = advice.casefold()
    return any(part in said for part in NAMED[fault])
