"""Modified nodal analysis by dense matrices: a second, independent way to solve a circuit."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

ComplexArray = NDArray[np.complex128]


@dataclass
class Nodal:
    """Admittances and ideal transformers between numbered nodes; node 0 is ground.

    A source of 1 V stands at node 1.
    """

    s: ComplexArray
    admittances: list[tuple[int, int, ComplexArray]] = field(default_factory=list)
    transformers: list[tuple[int, int, float]] = field(default_factory=list)

    def add(self, first: int, second: int, impedance_ohm: ComplexArray | float) -> None:
        self.admittances.append((first, second, 1.0 / (impedance_ohm + 0.0 * self.s)))

    def solved(self) -> tuple[ComplexArray, ComplexArray]:
        """Return node voltages, shape (nodes + 1, n), and the current out of the source."""
        nodes = max(max(one[:2]) for one in self.admittances)
        nodes = max([nodes, *(max(pair[:2]) for pair in self.transformers)])
        size = nodes + 1 + len(self.transformers)
        matrix = np.zeros((self.s.size, size, size), dtype=np.complex128)
        for first, second, y_s in self.admittances:
            for row, column, sign in (
                (first, first, 1),
                (second, second, 1),
                (first, second, -1),
                (second, first, -1),
            ):
                if row and column:
                    matrix[:, row - 1, column - 1] += sign * y_s
        matrix[:, 0, nodes] = 1.0  # current into node 1 from the source, sign below
        matrix[:, nodes, 0] = 1.0
        for number, (near, far, ratio) in enumerate(self.transformers):
            extra = nodes + 1 + number  # far-side current
            matrix[:, near - 1, extra] += ratio
            matrix[:, far - 1, extra] -= 1.0
            matrix[:, extra, far - 1] += 1.0
            matrix[:, extra, near - 1] -= ratio
        right = np.zeros((self.s.size, size, 1), dtype=np.complex128)
        right[:, nodes, 0] = 1.0
        answer = np.linalg.solve(matrix, right)[:, :, 0]
        voltages = np.vstack([np.zeros(self.s.size), answer[:, :nodes].T])
        return voltages, -answer[:, nodes]
