"""The fixture's room: paths from the unit to the microphones, and the noise around it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.physics.air import AIR_20C, Air
from station.simulation.physics.grid import TimeGrid

P0_PA = 20e-6
NOISE_FROM_HZ, NOISE_TO_HZ = 20.0, 20000.0  # the band an ambient level is stated for
SHARED_RATIO = 0.5  # of the room noise's pressure that both microphones hear alike
LATER_S = {"microphone": 0.0, "ambient": 1.5e-3, "rear": 4e-3}  # arrival of the shared noise
BANG_DECAY_S = 20e-3
BANG_BAND_HZ = (150.0, 10000.0)  # metal on metal
BANG_FROM_RATIO, BANG_TO_RATIO = 0.3, 0.5  # of the run


@dataclass(frozen=True, slots=True)
class Reflection:
    """Sound by way of an absorbent wall: longer by `extra_m`, weaker, duller."""

    extra_m: float
    level_db: float
    dull_hz: float


REFLECTIONS = (
    Reflection(0.62, -27.0, 6000.0),
    Reflection(1.05, -30.0, 4000.0),
    Reflection(1.71, -34.0, 3000.0),
)
AMBIENT_EXTRA_M = 0.5
AMBIENT_LEVEL_DB = -22.0  # the ambient microphone is turned away, behind a screen
AMBIENT_DULL_HZ = 2500.0


def path(
    s: ComplexArray,
    distance_m: float,
    *,
    reflections: bool,
    air: Air = AIR_20C,
    more: tuple[Reflection, ...] = (),
) -> ComplexArray:
    """Return pressure at a distance over pressure at 1 m without flight time."""
    ways = (*REFLECTIONS, *more) if reflections else more
    arrivals = 1.0 + sum(echo(s, way, air) for way in ways)
    return np.asarray(flight(s, distance_m, air) / distance_m * arrivals)


def ambient_path(s: ComplexArray, distance_m: float, air: Air = AIR_20C) -> ComplexArray:
    """Return the same for the ambient microphone, which hears little of the unit."""
    way = Reflection(AMBIENT_EXTRA_M, AMBIENT_LEVEL_DB, AMBIENT_DULL_HZ)
    return np.asarray(flight(s, distance_m, air) / distance_m * echo(s, way, air))


def echo(s: ComplexArray, way: Reflection, air: Air) -> ComplexArray:
    """Return a reflection relative to the direct sound."""
    gain = 10.0 ** (way.level_db / 20.0)
    dull = 1.0 + s / (2.0 * np.pi * way.dull_hz)
    return np.asarray(gain * flight(s, way.extra_m, air) / dull)


def flight(s: ComplexArray, distance_m: float, air: Air) -> ComplexArray:
    """Return the delay of sound over a distance."""
    return np.asarray(np.exp(-s * (distance_m / air.sound_m_s)))


def room_noise(
    roles: Iterable[str], level_db_spl: float, grid: TimeGrid, rng: Generator
) -> dict[str, FloatArray]:
    """Return the noise in Pa at each of the microphones in `roles`.

    Pink between 20 Hz and 20 kHz, where each has the level unweighted; part of it is common.
    """
    frequency_hz = grid.frequency_hz
    heard = (frequency_hz >= NOISE_FROM_HZ) & (frequency_hz <= NOISE_TO_HZ)
    density = np.zeros(frequency_hz.size)
    density[heard] = frequency_hz[heard] ** -0.5
    # a bin with unit variance of real and imaginary part adds (2/n)² to a signal's power
    density *= pa_of(level_db_spl) * grid.n_padded / (2.0 * np.linalg.norm(density))
    common = SHARED_RATIO * random_spectrum(frequency_hz.size, rng)
    own_ratio = np.sqrt(1.0 - SHARED_RATIO**2)
    noise: dict[str, FloatArray] = {}
    for role in roles:
        own = own_ratio * random_spectrum(frequency_hz.size, rng)
        noise[role] = grid.signal(density * (common * np.exp(-grid.s * LATER_S[role]) + own))
    return noise


def pa_of(level_db_spl: float) -> float:
    """Return the RMS pressure of a level."""
    return float(P0_PA * 10.0 ** (level_db_spl / 20.0))


def random_spectrum(bins: int, rng: Generator) -> ComplexArray:
    """Return complex normal values with unit variance of real and imaginary part."""
    return np.asarray(rng.standard_normal(2 * bins).view(np.complex128))


def bang_pa(peak_db_spl: float, grid: TimeGrid, rng: Generator) -> FloatArray:
    """Return one bang in the room, at some moment of the run's second third."""
    time_s = np.arange(grid.n_samples) / grid.rate_hz
    start_s = float(rng.uniform(BANG_FROM_RATIO, BANG_TO_RATIO)) * grid.n_samples / grid.rate_hz
    since_s = np.maximum(time_s - start_s, 0.0)
    decay = np.where(time_s >= start_s, np.exp(-since_s / BANG_DECAY_S), 0.0)
    rough = grid.spectrum(rng.standard_normal(grid.n_samples) * decay)
    inside = (grid.frequency_hz >= BANG_BAND_HZ[0]) & (grid.frequency_hz <= BANG_BAND_HZ[1])
    bang = grid.signal(rough * inside)
    return np.asarray(bang * (pa_of(peak_db_spl) / np.max(np.abs(bang))))
