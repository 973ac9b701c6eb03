"""What a microphone hears before the sweep."""

from __future__ import annotations

import numpy as np
import scipy.fft

from station.analysis.arrays import FloatArray
from station.analysis.recording import Recording, Role
from station.analysis.signals.microphoneresponse import corrected


def lead_in(recording: Recording, role: Role) -> FloatArray:
    """Return a channel in the silence before the sweep.

    Parameters
    ----------
    recording : Recording
        With this role.
    role : Role
        Which channel; the microphone's own response is taken out, as it is of the spectra.

    Returns
    -------
    ndarray, shape (n,)
        In Pa, V or A; as much of the lead-in as was recorded.

    Raises
    ------
    KeyError
        If the recording does not have the role.

    References
    ----------
    .. [1] A selection; no source.
    """
    samples = recording.full_scale_samples(role)[: recording.sweep.lead_in_samples]
    heard = samples * recording.channels[recording.roles.index(role)].full_scale
    if role != "microphone" or recording.microphone_response is None or heard.size == 0:
        return heard
    spectrum = scipy.fft.rfft(heard)
    bins_hz = np.arange(spectrum.size, dtype=np.float64) * (recording.rate_hz / heard.size)
    ideal = corrected(bins_hz, spectrum, recording.microphone_response)
    quiet: FloatArray = scipy.fft.irfft(ideal, heard.size)
    return quiet
