"""The measuring chain around a unit: amplifier, cable, microphones, and all inputs in units."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.bench.looseness import Looseness
from station.simulation.bench.room import LATER_S, ambient_path, bang_pa, pa_of, path, room_noise
from station.simulation.physics.air import Air
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.relaxation import Source
from station.simulation.physics.speaker import SimulatedUnit

SELF_NOISE_DB_SPL = 22.0  # of each microphone, unweighted over the whole band


@dataclass(frozen=True, slots=True)
class Chain:
    """What stays the same from unit to unit."""

    distance_m: float
    ambient_db_spl: float
    reflections: bool
    amplifier_ohm: float
    cable_ohm: float
    cable_h: float
    amplifier_peak_v: float  # the rail
    loose: Looseness | None = None

    def distance_to(self, role: str) -> float:
        """Return the distance of a microphone; a loose one does not hang in its place."""
        off_m = self.loose.microphone_off_m if self.loose and role == "microphone" else 0.0
        return self.distance_m + off_m


def channels_of(
    roles: Iterable[str],
    unit: SimulatedUnit | None,
    drive_v: FloatArray,
    chain: Chain,
    air: Air,
    rate_hz: float,
    faults: Mapping[str, float],
    room_rng: Generator,
    unit_rng: Generator,
) -> dict[str, FloatArray]:
    """Return each role's signal in Pa, V or A for a drive in V; no unit: open terminals."""
    grid = TimeGrid(drive_v.size, rate_hz)
    gain = 10.0 ** (faults.get("station_wrong_gain", 0.0) / 20.0)
    clipped_v = np.clip(gain * drive_v, -chain.amplifier_peak_v, chain.amplifier_peak_v)
    microphones = [role for role in roles if role in LATER_S]
    signals = noise_of(microphones, chain, faults, grid, room_rng)
    if unit is None:
        return signals | {"voltage": clipped_v, "current": np.zeros_like(clipped_v)}
    impedance_ohm = chain.amplifier_ohm + chain.cable_ohm + grid.s * chain.cable_h
    emission = unit.play(Source(grid.spectrum(clipped_v), impedance_ohm), grid, unit_rng)
    for role in microphones:
        sound_pa = emission.rear_pa if role == "rear" else emission.front_pa
        signals[role] += grid.signal(sound_pa * way_to(role, chain, grid.s, air))
    signals["voltage"] = grid.signal(emission.terminal_v)
    signals["current"] = grid.signal(emission.current_a)
    return signals


def way_to(role: str, chain: Chain, s: ComplexArray, air: Air) -> ComplexArray:
    """Return pressure at a microphone over pressure at 1 m."""
    if role == "ambient":
        return ambient_path(s, chain.distance_m, air)
    seal = () if chain.loose is None else (chain.loose.seal,)
    distance_m = chain.distance_to(role)
    return path(s, distance_m, reflections=chain.reflections, air=air, more=seal)


def noise_of(
    microphones: Iterable[str],
    chain: Chain,
    faults: Mapping[str, float],
    grid: TimeGrid,
    rng: Generator,
) -> dict[str, FloatArray]:
    """Return what the microphones hear of the room and of themselves."""
    level_db_spl = faults.get("station_loud_room", chain.ambient_db_spl)
    if chain.loose is not None:
        level_db_spl += chain.loose.leak_db
    noise = room_noise(microphones, level_db_spl, grid, rng)
    bang = np.zeros(grid.n_samples)
    if "station_bang" in faults:
        bang = bang_pa(faults["station_bang"], grid, rng)
    self_pa = pa_of(SELF_NOISE_DB_SPL)
    return {
        role: heard + bang + self_pa * rng.standard_normal(heard.size)
        for role, heard in noise.items()
    }
