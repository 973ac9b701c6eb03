"""What the voltage and current channels tell about the station: faults of amplifier and cables."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.plan import IntegrityPlan
from station.analysis.readings import Number
from station.analysis.recording import Recording
from station.analysis.signals.spectra import (
    Spectra,
    full_level_to_hz,
    inverse_sweep,
    phase_ramp,
    start_of_sweep,
)
from station.analysis.trust.drive import DriveState, drive_state
from station.analysis.trust.integrity import FaultKind, IntegrityFault
from station.analysis.trust.timebase import time_base

# Below this share of the wanted voltage nothing was driven at all.
ABSENT_BELOW_RATIO = 0.01
# A voltage channel is this much like the drive, other channels are not: a loudspeaker's sound and
# current follow its response and its impedance.
UNLIKE_BELOW_RATIO = 0.95
LIKE_FROM_RATIO = 0.98
HEARD_FROM_RATIO = 0.5
# A passive unit takes power. A panel takes little of what it lets flow, but gives none back.
GIVEN_BACK_RATIO = 0.1

PPM = 1e6
# Two clocks drift steadily, 0.002 and less; where samples were lost it is 0.016 and more.
STEADY_BELOW_RATIO = 0.008

# Windows in the deconvolved voltage, each a tenth of L wide. At order n the n-th harmonic stands.
HARMONIC_ORDERS = (2.0, 3.0, 5.0)
ORDERS_BETWEEN = (2.45, 4.47)
ORDER_NEAR = 1.28
WINDOW_RATIO = 0.1
HARMONIC_OVER_BETWEEN = 4.0
NEAR_OVER_FAR = 10.0
TAPER_OCTAVES = 2.0


def drive_faults(
    recording: Recording, spectra: Spectra, state: DriveState, plan: IntegrityPlan
) -> tuple[IntegrityFault, ...]:
    """Return the faults of amplifier, cables and timing that the voltage channel shows.

    Parameters
    ----------
    recording : Recording
        The recording.
    spectra : Spectra
        Its spectra.
    state : DriveState
        How the voltage channel compares with the drive.
    plan : IntegrityPlan
        What is allowed.

    Returns
    -------
    tuple of IntegrityFault
        Empty if there are none. If the voltage is missing, only that is said.

    Raises
    ------
    ValueError
        If the recording is too short for its sweep.

    References
    ----------
    .. [1] Harmonics in the deconvolved voltage: Farina, AES 108th Convention, 2000. The rest is
       common practice, no source.
    """
    voltage = next(absent_or_swapped(recording, spectra, state), None)
    if voltage is not None:
        return (voltage,)
    if (clock := next(clock_fault(spectra, plan), None)) is not None:
        return (clock,)
    return (
        *level_fault(spectra, state, plan),
        *residual_fault(spectra, state, plan),
    )


def absent_or_swapped(
    recording: Recording, spectra: Spectra, state: DriveState
) -> Iterator[IntegrityFault]:
    """Yield the one fault because of which there is no voltage to refer to."""
    if state.likeness_ratio < UNLIKE_BELOW_RATIO:
        for role in recording.roles:
            if role == "voltage":
                continue
            other = state_of(scipy.fft.rfft(recording.full_scale_samples(role), spectra.n), spectra)
            if other.likeness_ratio >= LIKE_FROM_RATIO:
                found = Number(other.likeness_ratio, "ratio")
                yield IntegrityFault("swapped", role, {"found": found})
    driven_ratio = state.likeness_ratio * state.level_ratio
    if driven_ratio < ABSENT_BELOW_RATIO:
        yield IntegrityFault("voltage_absent", "voltage", voltages(spectra, driven_ratio))


def clock_fault(spectra: Spectra, plan: IntegrityPlan) -> Iterator[IntegrityFault]:
    """Yield the fault of an output and inputs that run on two clocks."""
    if plan.clock_ppm is None:
        return
    base = time_base(spectra)
    drift_ppm = PPM * base.drift_ratio
    if abs(drift_ppm) > plan.clock_ppm and base.unsteady_ratio < STEADY_BELOW_RATIO:
        detail = {
            "found": Number(drift_ppm, "ppm"),
            "allowed": Number(plan.clock_ppm, "ppm"),
        }
        yield IntegrityFault("clock", "voltage", detail)


def state_of(spectrum: ComplexArray, spectra: Spectra) -> DriveState:
    """Return how a channel compares with the drive, wherever in time it stands there."""
    start_s = start_of_sweep(spectrum, spectra.sweep, spectra.n)
    return drive_state(spectrum, start_s, spectra.sweep, spectra.n)


def level_fault(
    spectra: Spectra, state: DriveState, plan: IntegrityPlan
) -> Iterator[IntegrityFault]:
    """Yield the fault of a voltage that is too high or too low."""
    if abs(20.0 * math.log10(state.level_ratio)) > plan.level_tolerance_db:
        detail = voltages(spectra, state.level_ratio)
        detail["allowed"] = Number(plan.level_tolerance_db, "dB")
        yield IntegrityFault("voltage_level", "voltage", detail)


def voltages(spectra: Spectra, level_ratio: float) -> dict[str, Number]:
    """Return the voltage that was found and the one that was wanted."""
    wanted_v = spectra.sweep.level_v
    return {"found": Number(level_ratio * wanted_v, "V"), "needed": Number(wanted_v, "V")}


def residual_fault(
    spectra: Spectra, state: DriveState, plan: IntegrityPlan
) -> Iterator[IntegrityFault]:
    """Yield the fault of a voltage that no linear path from the drive explains."""
    if state.residual_db <= plan.residual_db:
        return
    voltage, current = spectra.by_role["voltage"], spectra.by_role.get("current")
    known = drive_state(voltage, spectra.start_s, spectra.sweep, spectra.n, current)
    if known.residual_db <= plan.residual_db:
        return
    detail = {
        "found": Number(known.residual_db, "dB"),
        "allowed": Number(plan.residual_db, "dB"),
        "at": Number(known.residual_at_hz, "Hz"),
    }
    yield IntegrityFault(residual_kind(spectra), "voltage", detail)


def residual_kind(spectra: Spectra) -> FaultKind:
    """Tell clipping, lost samples and noise apart by when they arrive in the deconvolved voltage.

    Harmonics stand L ln(n) before the linear part. Lost samples are a sudden turn of the phase
    over frequency, which rings around the linear part and dies away. Noise is everywhere.
    """
    impulse = deconvolved_voltage(spectra)
    between = max(mean_square_at(impulse, spectra, order) for order in ORDERS_BETWEEN)
    harmonics = max(mean_square_at(impulse, spectra, order) for order in HARMONIC_ORDERS)
    if harmonics > HARMONIC_OVER_BETWEEN * between:
        return "amplifier_clipping"
    far = float(np.mean(impulse[impulse.size // 3 : impulse.size // 2] ** 2))
    near = mean_square_at(impulse, spectra, ORDER_NEAR)
    return "samples_lost" if near > NEAR_OVER_FAR * far else "voltage_noisy"


def deconvolved_voltage(spectra: Spectra) -> FloatArray:
    """Return the impulse response from drive to voltage channel, the linear part at time zero.

    Both ends of the spectrum fall off smoothly: a sharp end would ring like lost samples.
    """
    step_hz, top_hz = spectra.step_hz, full_level_to_hz(spectra.sweep)
    stop = min(math.floor(top_hz / step_hz), spectra.frequency_hz.size)
    frequency_hz = np.maximum(spectra.frequency_hz[:stop], step_hz)
    octaves_inside = np.minimum(
        np.log2(frequency_hz / spectra.sweep.faded_in_hz), np.log2(top_hz / frequency_hz)
    )
    spectrum = spectra.by_role["voltage"][:stop] * inverse_sweep(spectra.sweep, spectra.n)[:stop]
    spectrum *= phase_ramp(stop, step_hz, -spectra.start_s)
    spectrum *= np.sin(0.5 * np.pi * np.clip(octaves_inside / TAPER_OCTAVES, 0.0, 1.0)) ** 2
    impulse: FloatArray = scipy.fft.irfft(spectrum, spectra.n)
    return impulse


def mean_square_at(impulse: FloatArray, spectra: Spectra, order: float) -> float:
    """Return the mean square around the instant at which a harmonic of this order stands."""
    rate_s, rate_hz = spectra.sweep.rate_s, spectra.sweep.rate_hz
    centre = round(-rate_s * math.log(order) * rate_hz)
    half = max(1, round(0.5 * WINDOW_RATIO * rate_s * rate_hz))
    places = np.arange(centre - half, centre + half) % impulse.size
    return float(np.mean(impulse[places] ** 2))


def current_fault(spectra: Spectra) -> tuple[IntegrityFault, ...]:
    """Return why no current follows the voltage, for a recording in which none does.

    Parameters
    ----------
    spectra : Spectra
        Of a recording with microphone, voltage and current.

    Returns
    -------
    tuple of IntegrityFault
        The sense is broken if the unit was heard, else nothing is connected; empty if there is a
        current all the same.

    Raises
    ------
    ValueError
        If the recording is too short for its sweep.

    References
    ----------
    .. [1] Common practice, no source.
    """
    current = state_of(spectra.by_role["current"], spectra)
    if current.explained_ratio >= HEARD_FROM_RATIO:
        return ()
    sound = state_of(spectra.by_role["microphone"], spectra)
    heard = sound.explained_ratio >= HEARD_FROM_RATIO
    detail = {
        "current": Number(current.explained_ratio, "ratio"),
        "sound": Number(sound.explained_ratio, "ratio"),
    }
    return (IntegrityFault("current_sense" if heard else "not_connected", "current", detail),)


def reversed_current(spectra: Spectra) -> tuple[IntegrityFault, ...]:
    """Return the fault of a current that is measured the wrong way round.

    Parameters
    ----------
    spectra : Spectra
        Of a recording with voltage and current.

    Returns
    -------
    tuple of IntegrityFault
        The fault if the unit seems to give back more than a tenth of the apparent power of the
        whole sweep, else empty.

    References
    ----------
    .. [1] A passive one-port takes active power, the real part of V times I conjugate; the tenth
       is common practice, no source.
    """
    voltage, current = spectra.by_role["voltage"], spectra.by_role["current"]
    active = float(np.vdot(current, voltage).real)
    apparent = float(np.linalg.norm(voltage) * np.linalg.norm(current))
    if active >= -GIVEN_BACK_RATIO * apparent:
        return ()
    detail = {"power factor": Number(active / apparent, "ratio")}
    return (IntegrityFault("current_reversed", "current", detail),)
