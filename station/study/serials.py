"""Serial numbers for a study, drawn so that no limit was learnt from the units that carry them."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator

import numpy as np
from numpy.random import Generator

from station.errors import RefusedInputError
from station.judging.tables.tables import LimitFile
from station.simulation.products.units import MODELS, SimulatedModel

FIRST_NUMBER = 1000  # limits may have been learnt from simulated units with lower ones
NUMBERS = 100_000  # five digits


def simulated_model(limits: LimitFile) -> SimulatedModel:
    """Return the simulated model a limit file is for; raise RefusedInputError if there is none."""
    for model in MODELS:
        claimed = re.fullmatch(limits.model.serial, serial_of(model, FIRST_NUMBER))
        if model.name == limits.model.name and claimed:
            return model
    raise RefusedInputError(
        f"There is no simulated {limits.model.name} whose serial numbers match "
        f"{limits.model.serial!r}.",
        f"Study the limit file of one of these: {', '.join(model.name for model in MODELS)}.",
    )


def serial_of(model: SimulatedModel, number: int) -> str:
    """Return a serial number."""
    return f"{model.prefix}{number:05d}"


def drawn_serials(model: SimulatedModel, seed: int, purpose: str) -> Iterator[str]:
    """Yield serial numbers in random order, none twice, the same for the same purpose and seed."""
    for number in generator(seed, f"{purpose}/serials").permutation(NUMBERS - FIRST_NUMBER):
        yield serial_of(model, FIRST_NUMBER + int(number))


def generator(seed: int, purpose: str) -> Generator:
    """Return random numbers that depend on nothing but seed and purpose."""
    digest = hashlib.sha256(f"{seed}/{purpose}".encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:16]))
