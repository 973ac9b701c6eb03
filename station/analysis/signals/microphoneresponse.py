"""A microphone's own response, taken out of what was measured with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray, read_only

DEGREES_PER_TURN = 360.0


@dataclass(frozen=True, slots=True, eq=False)
class MicrophoneResponse:
    """How a microphone departs from the ideal, as its certificate states it.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero, n >= 1.
    level_db : ndarray, shape (n,)
        Sensitivity relative to that at the calibrator's frequency.
    phase_deg : ndarray, shape (n,)
        Phase relative to the ideal; zeros where the certificate has none.

    Raises
    ------
    ValueError
        If shapes disagree, frequencies do not rise, or a value is not finite.
    """

    frequency_hz: FloatArray
    level_db: FloatArray
    phase_deg: FloatArray

    def __post_init__(self) -> None:
        shape = self.frequency_hz.shape
        if len(shape) != 1 or not self.level_db.shape == self.phase_deg.shape == shape:
            raise ValueError(
                f"need three shapes (n,); got {shape}, {self.level_db.shape}, "
                f"{self.phase_deg.shape}"
            )
        if shape == (0,) or self.frequency_hz[0] <= 0.0 or np.any(np.diff(self.frequency_hz) <= 0):
            raise ValueError("need rising frequencies above zero")
        for name in ("frequency_hz", "level_db", "phase_deg"):
            if not np.isfinite(getattr(self, name)).all():
                raise ValueError(f"{name} must be finite")
            object.__setattr__(self, name, read_only(getattr(self, name)))


def microphone_gain(response: MicrophoneResponse, frequency_hz: FloatArray) -> ComplexArray:
    """Return a microphone's complex response at any frequencies.

    Parameters
    ----------
    response : MicrophoneResponse
        From its certificate.
    frequency_hz : ndarray, shape (m,)
        Zero or above.

    Returns
    -------
    ndarray, shape (m,)
        Ratio to the ideal. Level and unwrapped phase are straight between the certificate's
        points over log frequency, and beyond its ends constant.

    Raises
    ------
    ValueError
        If a frequency is negative or not finite.

    References
    ----------
    .. [1] IEC 61094-4 on working standard microphones; the interpolation is common practice, no
       source.
    """
    if not np.all((frequency_hz >= 0.0) & np.isfinite(frequency_hz)):
        raise ValueError("need finite frequencies of zero or above")
    inside_hz = np.clip(frequency_hz, response.frequency_hz[0], response.frequency_hz[-1])
    place, points = np.log(inside_hz), np.log(response.frequency_hz)
    level_db = np.interp(place, points, response.level_db)
    turning_deg = np.unwrap(response.phase_deg, period=DEGREES_PER_TURN)
    phase_deg = np.interp(place, points, turning_deg)
    gain = 10.0 ** (level_db / 20.0) * np.exp(1j * np.radians(phase_deg))
    return np.asarray(gain, dtype=np.complex128)


def corrected(
    frequency_hz: FloatArray, values: ComplexArray, response: MicrophoneResponse
) -> ComplexArray:
    """Return a transfer function as an ideal microphone would have measured it.

    Parameters
    ----------
    frequency_hz : ndarray, shape (m,)
        Zero or above.
    values : ndarray, shape (m,)
        Complex transfer function to the microphone, in any unit.
    response : MicrophoneResponse
        Of that microphone.

    Returns
    -------
    ndarray, shape (m,)
        In the unit of `values`.

    Raises
    ------
    ValueError
        If the shapes disagree, or a frequency is negative or not finite.

    References
    ----------
    .. [1] IEC 60268-5, clause on the calibration of the measuring microphone.
    """
    if frequency_hz.shape != values.shape:
        raise ValueError(f"need two equal shapes; got {frequency_hz.shape} and {values.shape}")
    ideal: ComplexArray = values / microphone_gain(response, frequency_hz)
    return ideal
