"""What the operator is told of a recording that cannot be trusted."""

from __future__ import annotations

import math
import re

from station.analysis.trust.integrity import IntegrityFault
from station.judging.verdicts.verdict import Cause
from station.judging.words.words import quantity_words


def void_cause(fault: IntegrityFault) -> Cause:
    """Return a fault of the recording as the cause of a void."""
    return Cause(
        reading=str(fault.role or fault.reading or "recording"),
        side="untrusted",
        margin=math.nan,
        unit="",
        at_hz=None,
        severity=0.0,
        happened=what_happened(fault),
        advice=fault.remedy,
    )


def what_happened(fault: IntegrityFault) -> str:
    """Return the fault's sentence with the input or reading, and the values it was found by."""
    found = [str(fault.role or fault.reading)] if fault.role or fault.reading else []
    found += [
        f"{name} {quantity_words(number.value, number.unit)}"
        for name, number in fault.detail.items()
    ]
    if not found:
        return fault.happened
    return f"{fault.happened.removesuffix('.')} ({', '.join(found)})."


def without_values(happened: str) -> str:
    """Return a fault's sentence as it is whatever the input and the values were."""
    return re.sub(r" \([^()]*\)\.$", ".", happened)
