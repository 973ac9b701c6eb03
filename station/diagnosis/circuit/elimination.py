"""Symmetric elimination of a network's nodes, in an order that is fixed once.

Which products must be formed depends on the network alone; they are then formed for all variants
and all frequencies at once, with whole arrays in place of numbers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray

GROUND = -1


@dataclass(frozen=True, slots=True)
class EliminationPlan:
    """Nodes in the order they are eliminated, the terminal last.

    `ends` holds the positions of each branch's two nodes, GROUND for the return; `neighbours` of
    a position are the later ones it is connected to by then.
    """

    ends: tuple[tuple[int, int], ...]
    neighbours: tuple[tuple[int, ...], ...]

    @property
    def nodes(self) -> int:
        """How many nodes there are besides the return."""
        return len(self.neighbours)


def elimination_plan(
    ends: Sequence[tuple[str, str]], terminal: str, ground: str
) -> EliminationPlan:
    """Return the plan for branches between named nodes: least connected first."""
    around: dict[str, set[str]] = {node: set() for pair in ends for node in pair if node != ground}
    for first, second in ends:
        if ground not in {first, second}:
            around[first].add(second)
            around[second].add(first)
    order: list[str] = []
    later: list[set[str]] = []
    while around:
        inner = [node for node in around if node != terminal] or [terminal]
        node = min(inner, key=lambda name: (len(around[name]), name))
        beside = around.pop(node)
        for other in beside:
            around[other] |= beside - {other}
            around[other].discard(node)
        order.append(node)
        later.append(beside)
    position = {node: index for index, node in enumerate(order)} | {ground: GROUND}
    return EliminationPlan(
        tuple((position[first], position[second]) for first, second in ends),
        tuple(tuple(sorted(position[name] for name in beside)) for beside in later),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Eliminated:
    """The factors of the nodal matrix: pivots, and each node's share of its neighbours."""

    plan: EliminationPlan
    pivots: list[ComplexArray]
    shares: dict[tuple[int, int], ComplexArray]

    def driven_at_terminal(self) -> list[ComplexArray]:
        """Return every node's voltage for one ampere into the terminal."""
        voltages = [np.empty(0, dtype=np.complex128)] * self.plan.nodes
        voltages[-1] = 1.0 / self.pivots[-1]
        for node in range(self.plan.nodes - 2, -1, -1):
            first, *rest = self.plan.neighbours[node]
            total = self.shares[node, first] * voltages[first]
            for other in rest:
                total = total + self.shares[node, other] * voltages[other]
            voltages[node] = -total
        return voltages

    def some(self, cut: slice) -> Eliminated:
        """Return the same at some of the frequencies."""
        shares = {key: share[:, cut] for key, share in self.shares.items()}
        return Eliminated(self.plan, [pivot[:, cut] for pivot in self.pivots], shares)

    def driven_by(self, amperes: Mapping[int, FloatArray]) -> list[ComplexArray]:
        """Return every node's voltage for currents into some nodes, each of shape (n,)."""
        none = np.zeros_like(self.pivots[-1])
        currents = [none] * self.plan.nodes
        for node, ampere in amperes.items():
            if node != GROUND:
                currents[node] = none + ampere
        for node in range(self.plan.nodes):
            if currents[node] is none:
                continue
            for other in self.plan.neighbours[node]:
                currents[other] = currents[other] - self.shares[node, other] * currents[node]
        voltages = [none] * self.plan.nodes
        for node in range(self.plan.nodes - 1, -1, -1):
            total = currents[node] / self.pivots[node]
            for other in self.plan.neighbours[node]:
                total = total - self.shares[node, other] * voltages[other]
            voltages[node] = total
        return voltages

    def across(self, voltages: list[ComplexArray], branch: int) -> ComplexArray:
        """Return the voltage across a branch."""
        first, second = self.plan.ends[branch]
        if first == GROUND:
            return -voltages[second]
        return voltages[first] if second == GROUND else voltages[first] - voltages[second]


def eliminated(plan: EliminationPlan, admittances: Sequence[ComplexArray]) -> Eliminated:
    """Return the factors for the admittances of all branches, each of shape (batch, n)."""
    matrix: dict[tuple[int, int], ComplexArray] = {}

    def add(row: int, col: int, value: ComplexArray) -> None:
        key = (min(row, col), max(row, col))
        matrix[key] = matrix[key] + value if key in matrix else value

    for (first, second), admittance in zip(plan.ends, admittances, strict=True):
        for node in (first, second):
            if node != GROUND:
                add(node, node, admittance)
        if GROUND not in (first, second):
            add(first, second, -admittance)
    shares: dict[tuple[int, int], ComplexArray] = {}
    for node in range(plan.nodes - 1):
        beside = plan.neighbours[node]
        for at, other in enumerate(beside):
            shares[node, other] = matrix[node, other] / matrix[node, node]
            for further in beside[at:]:
                add(other, further, -shares[node, other] * matrix[node, further])
    return Eliminated(plan, [matrix[node, node] for node in range(plan.nodes)], shares)
