"""Noises of a factory hall, synthesised or recorded, and how two microphones hear one of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
import soundfile
from scipy import signal

from station.analysis.arrays import FloatArray
from station.analysis.recording import Recording

RATE_HZ = 96000.0
REVERBERATION_S = 0.35  # time in which the hall's sound falls by 60 dB
DIRECT_OVER_HALL_DB = 3.0  # at a few metres
FLIGHT_APART_S = 6e-3  # the microphones may be 2 m apart in distance from the noise
NEARER_SIGMA_DB, NEARER_MOST_DB = 3.0, 6.0  # and it may be this much louder at one of them
PEAK_FROM_DB_SPL, PEAK_TO_DB_SPL = 60.0, 100.0

Sound = Callable[[np.random.Generator], FloatArray]  # at RATE_HZ, of any level

GAMES = Path("/usr/share/games/minetest/games/minetest_game/mods")
KEYS = Path("/usr/share/buckle/wav")
# Debian packages: minetest-data (sounds CC BY-SA 3.0, doors CC BY 3.0), bucklespring-data (GPL-2+).
RECORDED: Mapping[str, tuple[Path, str]] = MappingProxyType(
    {
        "doors": (GAMES, "*/sounds/*door_*.ogg"),
        "metal": (GAMES, "default/sounds/*metal*.ogg"),
        "tools": (GAMES, "default/sounds/default_*dig_c*.ogg"),
        "glass": (GAMES, "default/sounds/default_break_glass*.ogg"),
        "hissing": (GAMES, "fire/sounds/fire_extinguish*.ogg"),
        "keys": (KEYS, "*-0.wav"),
    }
)


def hammer(rng: np.random.Generator) -> FloatArray:
    """Return a blow on metal: a crack and eight ringing modes."""
    time_s = np.arange(round(0.25 * RATE_HZ)) / RATE_HZ
    return peak_of_one(ringing(rng, time_s, 8, (400.0, 9000.0), (4e-3, 40e-3)) + crack(rng, time_s))


def dropped_wrench(rng: np.random.Generator) -> FloatArray:
    """Return a tool that falls and bounces, each time sooner and weaker."""
    sound = np.zeros(round(0.7 * RATE_HZ))
    time_s = np.arange(round(0.2 * RATE_HZ)) / RATE_HZ
    at_s, strength = 0.0, 1.0
    while at_s < 0.45 and strength > 0.05:
        first = round(at_s * RATE_HZ)
        blow = ringing(rng, time_s, 6, (1500.0, 12e3), (10e-3, 80e-3))
        sound[first : first + blow.size] += strength * blow[: sound.size - first]
        at_s += float(rng.uniform(0.03, 0.15)) * max(strength, 0.3)
        strength *= float(rng.uniform(0.4, 0.7))
    return peak_of_one(sound)


def compressed_air(rng: np.random.Generator) -> FloatArray:
    """Return a hiss of a tenth to eight tenths of a second."""
    noise = band_noise(rng, round(float(rng.uniform(0.1, 0.8)) * RATE_HZ), (800.0, 14e3))
    rise = np.clip(np.arange(noise.size) / (5e-3 * RATE_HZ), 0.0, 1.0)
    fall = np.clip(np.arange(noise.size)[::-1] / (20e-3 * RATE_HZ), 0.0, 1.0)
    return peak_of_one(noise * rise * fall)


def slammed_door(rng: np.random.Generator) -> FloatArray:
    """Return a thud, and the latch a little later."""
    time_s = np.arange(round(0.5 * RATE_HZ)) / RATE_HZ
    sound = 4.0 * np.exp(-time_s / 60e-3) * band_noise(rng, time_s.size, (40.0, 350.0))
    sound += np.exp(-time_s / 8e-3) * band_noise(rng, time_s.size, (500.0, 6000.0))
    first = round(float(rng.uniform(0.01, 0.04)) * RATE_HZ)
    latch = hammer(rng)[: sound.size - first]
    sound[first : first + latch.size] += 0.3 * np.max(np.abs(sound)) * latch
    return peak_of_one(sound)


SYNTHESISED: Mapping[str, Sound] = MappingProxyType(
    {
        "hammer": hammer,
        "dropped wrench": dropped_wrench,
        "compressed air": compressed_air,
        "slammed door": slammed_door,
    }
)


def recorded_sounds() -> dict[str, Sound]:
    """Return the recorded noises whose package is installed."""
    files = {name: sorted(folder.glob(mask)) for name, (folder, mask) in RECORDED.items()}
    return {f"recorded {name}": one_of(paths) for name, paths in files.items() if paths}


def one_of(paths: list[Path]) -> Sound:
    """Return a sound that is one of some files each time."""

    def pick(rng: np.random.Generator) -> FloatArray:
        samples, rate_hz = soundfile.read(paths[int(rng.integers(len(paths)))], always_2d=True)
        common = math.gcd(round(RATE_HZ), rate_hz)
        resampled = signal.resample_poly(
            samples.mean(axis=1), round(RATE_HZ) // common, rate_hz // common
        )
        return peak_of_one(resampled)

    return pick


@dataclass(frozen=True, slots=True)
class Place:
    """Where a noise comes from, as the two microphones hear it."""

    start_ratio: float  # of the recording
    peak_db_spl: float  # at the main microphone
    nearer_db: float  # louder at the ambient microphone by
    flights_s: tuple[float, float]


def place(rng: np.random.Generator) -> Place:
    """Return a place, an instant and a level by chance."""
    nearer_db = float(np.clip(rng.normal(0.0, NEARER_SIGMA_DB), -NEARER_MOST_DB, NEARER_MOST_DB))
    flights_s = (float(rng.uniform(0.0, FLIGHT_APART_S)), float(rng.uniform(0.0, FLIGHT_APART_S)))
    level = float(rng.uniform(PEAK_FROM_DB_SPL, PEAK_TO_DB_SPL))
    return Place(float(rng.uniform()), level, nearer_db, flights_s)


def with_noise(
    recording: Recording, sound: FloatArray, where: Place, rng: np.random.Generator
) -> Recording:
    """Return a recording as it had been with a noise: the hall sounds differently to each."""
    samples = recording.samples.copy()
    peaks_db = {"microphone": 0.0, "ambient": where.nearer_db}
    for (role, nearer_db), flight_s in zip(peaks_db.items(), where.flights_s, strict=True):
        if role not in recording.roles:
            continue
        row = [channel.role for channel in recording.channels].index(role)
        heard = peak_of_one(signal.fftconvolve(sound, hall(rng)))
        peak_pa = 20e-6 * 10.0 ** ((where.peak_db_spl + nearer_db) / 20.0)
        first = round(where.start_ratio * recording.n_samples + flight_s * RATE_HZ)
        stop = min(first + heard.size, recording.n_samples)
        if stop > first:
            full_scale = recording.channels[row].full_scale
            samples[row, first:stop] += heard[: stop - first] * (peak_pa / full_scale)
    return replace(recording, samples=np.clip(samples, -1.0, 1.0))


def without_ambient(recording: Recording) -> Recording:
    """Return a recording of a station that has no ambient microphone."""
    kept = [index for index, role in enumerate(recording.roles) if role != "ambient"]
    return replace(
        recording,
        samples=recording.samples[kept],
        channels=tuple(recording.channels[index] for index in kept),
    )


def hall(rng: np.random.Generator) -> FloatArray:
    """Return the hall's impulse response to one microphone: direct sound, then a dull tail."""
    time_s = np.arange(round(0.4 * RATE_HZ)) / RATE_HZ
    tail = rng.standard_normal(time_s.size) * 10.0 ** (-3.0 * time_s / REVERBERATION_S)
    tail[time_s < 2e-3] = 0.0
    tail *= 10.0 ** (-DIRECT_OVER_HALL_DB / 20.0) / np.linalg.norm(tail)
    tail = signal.sosfilt(signal.butter(1, 5000.0, fs=RATE_HZ, output="sos"), tail)
    tail[0] += 1.0
    return np.asarray(tail)


def ringing(
    rng: np.random.Generator,
    time_s: FloatArray,
    modes: int,
    span_hz: tuple[float, float],
    decay_s: tuple[float, float],
) -> FloatArray:
    """Return a struck body's modes."""
    sound = np.zeros_like(time_s)
    for _ in range(modes):
        frequency_hz = math.exp(rng.uniform(math.log(span_hz[0]), math.log(span_hz[1])))
        phase = rng.uniform(0.0, 2.0 * math.pi)
        wave = np.sin(2.0 * math.pi * frequency_hz * time_s + phase)
        sound += rng.uniform(0.3, 1.0) * np.exp(-time_s / rng.uniform(*decay_s)) * wave
    return sound


def crack(rng: np.random.Generator, time_s: FloatArray) -> FloatArray:
    """Return the contact itself: under a millisecond of noise."""
    return np.asarray(2.0 * np.exp(-time_s / 0.8e-3) * rng.standard_normal(time_s.size))


def band_noise(rng: np.random.Generator, size: int, span_hz: tuple[float, float]) -> FloatArray:
    """Return noise in a band."""
    shape = signal.butter(2, span_hz, "bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(signal.sosfilt(shape, rng.standard_normal(size)))


def peak_of_one(sound: FloatArray) -> FloatArray:
    """Return a sound with a peak of one."""
    return np.asarray(sound / np.max(np.abs(sound)))
