"""Every fault that can be put into a simulated unit or into the simulated station, by name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from station.errors import RefusedInputError

TARN, FELL, SCREE = "Tarn 2", "Fell 60", "Scree 12"
EVERY = (TARN, FELL, SCREE)


@dataclass(frozen=True, slots=True)
class Fault:
    """What a fault is, on which models it can occur, and what its severity number means."""

    name: str
    models: tuple[str, ...]
    meaning: str
    unit: str  # of the severity; empty if the fault is either there or not
    default: float
    lowest: float
    highest: float

    @property
    def counted(self) -> bool:
        """Whether the severity is a whole number."""
        return self.unit in {"", "samples", "number"}

    @property
    def allowed(self) -> str:
        """Which severities there are, as a sentence."""
        kind = "a whole number" if self.counted else "a number"
        unit = "" if self.unit in {"", "number", "ratio"} else f" {self.unit}"
        return f"Give {kind} from {self.lowest:g} to {self.highest:g}{unit}."

    def allows(self, severity: float) -> bool:
        """Return whether a severity makes sense."""
        whole = not self.counted or float(severity).is_integer()
        return math.isfinite(severity) and whole and self.lowest <= severity <= self.highest


def absolute(name: str, models: tuple[str, ...], meaning: str) -> Fault:
    """Return a fault that is either there (severity 1) or not."""
    return Fault(name, models, meaning, "", 1.0, 1.0, 1.0)


FAULTS = (
    absolute("reversed_woofer", EVERY, "the woofer's leads are swapped"),
    absolute("reversed_tweeter", (TARN,), "the tweeter's leads are swapped"),
    absolute("reversed_panel", (FELL,), "the panel's leads are swapped"),
    absolute("dead_woofer", EVERY, "the woofer's voice coil is open"),
    absolute("dead_tweeter", (TARN,), "the tweeter's voice coil is open"),
    absolute("dead_panel", (FELL,), "no signal reaches the panel"),
    absolute("missing_bias", (FELL,), "the panel has no bias voltage"),
    Fault("low_bias", (FELL,), "share of the panel's bias that is missing", "ratio", 0.2, 0, 1),
    Fault("shorted_turn", EVERY, "share of the woofer's turns shorted", "ratio", 0.12, 0, 0.9),
    Fault("weak_magnet", EVERY, "share of the woofer's force factor lost", "ratio", 0.2, 0, 0.9),
    Fault("stiff_surround", EVERY, "woofer stiffness added, a share", "ratio", 0.2, -0.9, 9),
    Fault("coil_rub", EVERY, "peak of the coil's scraping at 1 m", "dB SPL", 66, 0, 120),
    Fault("loose_part_buzz", EVERY, "peak of a loose part's rattle at 1 m", "dB SPL", 66, 0, 120),
    Fault("air_leak", EVERY, "peak of the leak's hiss at 1 m; it damps too", "dB SPL", 64, 0, 120),
    Fault("panel_arcing", (FELL,), "peak of each arc's crack at 1 m", "dB SPL", 68, 0, 120),
    Fault("wrong_capacitor", (TARN, FELL), "series capacitor off by", "ratio", 0.2, -0.9, 9),
    Fault(
        "open_crossover_part",
        (TARN, FELL),
        "the open part: 1 woofer capacitor, 2 coil, 3 capacitor of the upper section, "
        "4 woofer coil",
        "number",
        1,
        1,
        4,
    ),
    Fault(
        "shorted_crossover_part", (TARN, FELL), "the bridged part, same numbers", "number", 3, 1, 4
    ),
    absolute("swapped_parts", (TARN, FELL), "the crossover's two capacitors exchanged"),
    Fault("drifted_coil", (TARN, FELL), "upper section's coil off by", "ratio", 0.2, -0.9, 9),
    Fault("drifted_resistor", (TARN, FELL), "upper section's resistor off", "ratio", 0.3, -0.9, 9),
    Fault(
        "drifted_woofer_capacitor", (TARN, FELL), "woofer's capacitor off by", "ratio", 0.2, -0.9, 9
    ),
    Fault("drifted_woofer_coil", (TARN, FELL), "woofer's coil off by", "ratio", 0.2, -0.9, 9),
    Fault(
        "wrong_driver",
        EVERY,
        "another woofer fitted: 1 with 0.6 times the impedance, 2 with a heavier cone",
        "number",
        1,
        1,
        2,
    ),
    Fault("torn_surround", EVERY, "share of the woofer's surround torn", "ratio", 0.15, 0, 1),
    Fault(
        "cracked_magnet",
        EVERY,
        "force factor lost by a crack; it scrapes too",
        "ratio",
        0.15,
        0,
        0.9,
    ),
    Fault("wrong_filter_setting", (SCREE,), "low-pass corner over nominal", "ratio", 1.3, 0.2, 5),
    Fault("noisy_amplifier", (SCREE,), "amplifier noise and hum more by", "dB", 30, -60, 60),
    absolute("station_silent_microphone", EVERY, "the microphone's cable is unplugged"),
    absolute("station_swapped_channels", EVERY, "microphone and voltage inputs are swapped"),
    Fault("station_clipped_input", EVERY, "microphone peak above full scale", "dB", 6, 0, 60),
    Fault("station_lost_samples", EVERY, "samples lost in mid-sweep", "samples", 8, 1, 1e5),
    Fault("station_repeated_samples", EVERY, "samples repeated in mid-sweep", "samples", 8, 1, 1e5),
    Fault("station_clock_drift", EVERY, "output's clock faster by", "ppm", 100, -1e5, 1e5),
    Fault("station_nan_samples", EVERY, "microphone samples not a number", "samples", 3, 1, 1e5),
    Fault("station_wrong_gain", EVERY, "power amplifier's gain off by", "dB", -6, -60, 10),
    absolute("station_dead_current", EVERY, "the current sense is unplugged"),
    Fault("station_loud_room", EVERY, "ambient noise level", "dB SPL", 75, 0, 120),
    Fault("station_bang", EVERY, "peak of a bang in the unit's first run", "dB SPL", 85, 0, 130),
    Fault(
        "station_aged_microphone", EVERY, "sensitivity the microphone has lost", "dB", 1, -60, 60
    ),
    Fault(
        "station_aged_current", EVERY, "sensitivity the current sense has lost", "dB", 1, -60, 60
    ),
    Fault(
        "station_calibrator_error", EVERY, "calibrator louder than it says by", "dB", 20, -60, 60
    ),
    absolute("station_swapped_voltage_current", EVERY, "voltage and current inputs are swapped"),
    Fault(
        "station_loose_fixture",
        EVERY,
        "level of what a leaky seal reflects, relative to the direct sound",
        "dB",
        -14,
        -60,
        0,
    ),
    Fault(
        "station_wrong_model",
        EVERY,
        "a unit of another model is on the bench: the first or second other one",
        "number",
        1,
        1,
        2,
    ),
    Fault("station_hot_room", EVERY, "temperature of unit and room", "°C", 32, -10, 60),
    Fault("station_early_bias", (FELL,), "bias only switched on this long ago", "s", 3, 0, 600),
)
STATION_PREFIX = "station_"


def fault_names(model: str | None = None) -> tuple[str, ...]:
    """Return all fault names, or those that can occur on one model and its station."""
    return tuple(fault.name for fault in FAULTS if model is None or model in fault.models)


def fault_of(name: str) -> Fault:
    """Return a fault by name; raise RefusedInputError naming the possible ones."""
    for fault in FAULTS:
        if fault.name == name:
            return fault
    raise RefusedInputError(
        f"There is no fault called {name!r}.", f"Choose from: {', '.join(fault_names())}."
    )


def checked_faults(model: str, faults: Mapping[str, float]) -> dict[str, float]:
    """Return the faults if each can occur on the model; raise RefusedInputError."""
    for name, severity in faults.items():
        fault = fault_of(name)
        if model not in fault.models:
            raise RefusedInputError(
                f"A {model} cannot have the fault {name}.",
                f"Choose from: {', '.join(fault_names(model))}.",
            )
        if not fault.allows(severity):
            raise RefusedInputError(
                f"The fault {name} cannot have the severity {severity:g}.", fault.allowed
            )
    return dict(faults)


def checked_station_faults(faults: Mapping[str, float]) -> dict[str, float]:
    """Return the faults if each can occur without a unit; raise RefusedInputError."""
    for name, severity in faults.items():
        fault = fault_of(name)
        if not name.startswith(STATION_PREFIX):
            raise RefusedInputError(
                f"The fault {name} is one of a unit, and there is none.",
                f"Choose from: {', '.join(station_faults(dict.fromkeys(fault_names(), 1.0)))}.",
            )
        if not fault.allows(severity):
            raise RefusedInputError(
                f"The fault {name} cannot have the severity {severity:g}.", fault.allowed
            )
    return dict(faults)


def unit_faults(faults: Mapping[str, float]) -> dict[str, float]:
    """Return those faults that are in the unit itself."""
    return {name: s for name, s in faults.items() if not name.startswith(STATION_PREFIX)}


def station_faults(faults: Mapping[str, float]) -> dict[str, float]:
    """Return those faults that are in the station."""
    return {name: s for name, s in faults.items() if name.startswith(STATION_PREFIX)}
