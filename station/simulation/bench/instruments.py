"""The simulated turntable and bias voltmeter, bytes in and bytes out."""

from __future__ import annotations

from dataclasses import dataclass

from station.simulation.bench.controllerline import spoken, understood


@dataclass(slots=True)
class SimulatedTurntable:
    """Reaches its place after `looks` looks at it; a blocked one never does."""

    name: str
    looks: int = 0
    blocked: bool = False
    angle_deg: float = 0.0
    wanted_deg: float = 0.0
    left: int = 0
    come: bytes = b""

    def receive(self, data: bytes) -> bytes:
        """Take bytes in and return what goes back."""
        *lines, self.come = (self.come + data).split(b"\n")
        heard = [found for line in lines if (found := understood(line)) is not None]
        return b"".join(spoken(number, self.done(words).split(" ")) for number, words in heard)

    def done(self, words: list[str]) -> str:
        """Carry out a request and return the answer's words."""
        match words:
            case ["HELLO"]:
                return f"OK turntable={self.name} protocol=1"
            case ["TURN", degrees]:
                self.wanted_deg, self.left = float(degrees), self.looks
            case ["HALT"]:
                self.wanted_deg = self.angle_deg
            case ["STATE"]:
                self.left -= 1
            case _:
                return "NO such request"
        if self.left <= 0 and not self.blocked:
            self.angle_deg = self.wanted_deg
        moving = "yes" if self.angle_deg != self.wanted_deg else "no"
        return f"OK angle={self.angle_deg:.1f} moving={moving}"


@dataclass(slots=True)
class SimulatedVoltmeter:
    """A voltmeter behind a divider, on a bias that halves or doubles its way at every reading.

    `remaining_ratio` is what is left of the way after a reading; 1.0 is a bias that never moves.
    """

    ratio: float = 1000.0
    full_v: float = 3000.0
    remaining_ratio: float = 0.25
    identity: str = "Simulated voltmeter,0,1"
    broken_lead: bool = False
    bias_v: float = 0.0
    aim_v: float = 0.0
    come: bytes = b""

    def switch(self, on: bool) -> None:  # noqa: FBT001 - what a controller calls
        """Switch the supply."""
        self.aim_v = self.full_v if on else 0.0

    def receive(self, data: bytes) -> bytes:
        """Take bytes in and return what goes back."""
        *lines, self.come = (self.come + data).split(b"\n")
        return b"".join(map(self.answer_to, lines))

    def answer_to(self, line: bytes) -> bytes:
        """Return the answer to one query, nothing to anything else."""
        match line.strip():
            case b"*IDN?":
                return f"{self.identity}\n".encode("ascii")
            case b"MEAS:VOLT:DC?":
                self.bias_v = self.aim_v + (self.bias_v - self.aim_v) * self.remaining_ratio
                shown_v = 0.0 if self.broken_lead else self.bias_v / self.ratio
                return f"{shown_v:+.6E}\n".encode("ascii")
        return b""
