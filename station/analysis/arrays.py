"""Array types, and the read-only copies that frozen results keep."""

from __future__ import annotations

from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
ComplexArray: TypeAlias = NDArray[np.complex128]

ArrayT = TypeVar("ArrayT", bound=NDArray[Any])


def read_only(array: ArrayT) -> ArrayT:
    """Return a copy that cannot be written: a frozen dataclass alone leaves arrays writable."""
    copy = array.copy()
    copy.flags.writeable = False
    return copy
