"""The simulated fixture's controller: bytes in, bytes out, with its own interlock.

It does what the description in `station.hardware.attached.serialfixture` asks of a real one;
whoever holds it moves the lid and presses the button. `bias_supply` is told when the bias goes on
and off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from station.simulation.bench.controllerline import spoken, understood

ON_OFF = {"on": True, "off": False}
LAMPS = frozenset({"off", "busy", "pass", "fail", "void", "station"})
OPEN = "NO lid open"
BiasSupply = Callable[[bool], None]


@dataclass(slots=True)
class SimulatedController:
    """One controller; each of its faults is a field.

    Attributes
    ----------
    name : str
        What it greets with.
    unit_type : str
        What its sensor sees in the place for the unit.
    clamp_looks : int
        For how many looks at the state the clamp still moves.
    clamp_stuck, relays_stuck, deaf : bool
        The clamp never arrives; relays do not follow; nothing is answered at all.
    """

    name: str
    unit_type: str = "-"
    clamp_looks: int = 0
    clamp_stuck: bool = False
    relays_stuck: bool = False
    deaf: bool = False
    lid_open: bool = False
    locked: bool = False
    clamped: bool = False
    relays: int = 0
    bias_on: bool = False
    lamp: str = "off"
    openings: int = 0
    presses: int = 0
    moving_looks: int = 0
    bias_supply: BiasSupply = field(default=lambda _on: None)
    come: bytes = b""

    def receive(self, data: bytes) -> bytes:
        """Take bytes in and return what goes back."""
        *lines, self.come = (self.come + data).split(b"\n")
        if self.deaf:
            return b""
        return b"".join(map(self.answer_to, lines))

    def answer_to(self, line: bytes) -> bytes:
        """Return the answer to a line, nothing to one that is not understood."""
        heard = understood(line)
        if heard is None:
            return b""
        number, words = heard
        return spoken(number, self.done(words[0], words[1:]).split(" "))

    def done(self, verb: str, arguments: list[str]) -> str:
        """Carry out a request and return the answer's words."""
        if verb == "HELLO":
            return f"OK fixture={self.name} protocol=1"
        refusal = self.carried_out(verb, arguments[0] if arguments else "")
        return refusal or self.state_words()

    def carried_out(self, verb: str, argument: str) -> str:
        """Carry out a request; return the refusal if there is one."""
        match verb:
            case "STATE":
                pass
            case "SAFE":
                self.cut_off()
            case "LAMP" if argument in LAMPS:
                self.lamp = argument
            case "LOCK" if argument in ON_OFF:
                return self.lock(on=ON_OFF[argument])
            case "CLAMP" if argument in ON_OFF:
                return self.clamp(on=ON_OFF[argument])
            case "BIAS" if argument in ON_OFF:
                return self.bias(on=ON_OFF[argument])
            case "RELAYS" if argument.isdecimal():
                return self.connect(int(argument))
            case _:
                return "NO such request"
        return ""

    def state_words(self) -> str:
        """Return the whole state."""
        if self.moving_looks > 0 or self.clamp_stuck:
            clamp = "moving"
            self.moving_looks -= 1
        else:
            clamp = "on" if self.clamped else "off"
        return (
            f"OK lid={'open' if self.lid_open else 'closed'} openings={self.openings} "
            f"clamp={clamp} relays={self.relays} bias={'on' if self.bias_on else 'off'} "
            f"lock={'on' if self.locked else 'off'} unit={self.unit_type} presses={self.presses}"
        )

    def lock(self, *, on: bool) -> str:
        """Move the lock of the lid."""
        if self.lid_open:
            return OPEN
        if not on and self.bias_on:
            return "NO bias is on"
        self.locked = on
        return ""

    def clamp(self, *, on: bool) -> str:
        """Move the clamp."""
        if on and self.lid_open:
            return OPEN
        if on != self.clamped:
            self.moving_looks = self.clamp_looks
        self.clamped = on
        return ""

    def bias(self, *, on: bool) -> str:
        """Switch the bias supply."""
        if on and (self.lid_open or not self.locked or self.relays == 0):
            return "NO not closed, locked and connected"
        self.bias_on = on
        self.bias_supply(on)
        return ""

    def connect(self, relays: int) -> str:
        """Move the relays."""
        if relays and self.lid_open:
            return OPEN
        if not self.relays_stuck:
            self.relays = relays
        return ""

    def cut_off(self) -> None:
        """Do what the interlock does."""
        self.relays = 0
        self.bias_on = False
        self.bias_supply(False)

    def open_lid(self) -> bytes:
        """Open the lid by force, and return what is said about it unasked."""
        self.lid_open, self.locked = True, False
        self.openings += 1
        self.cut_off()
        return b"" if self.deaf else spoken(0, ["LID", "open"])

    def close_lid(self) -> None:
        """Close the lid."""
        self.lid_open = False

    def press_start(self) -> bytes:
        """Press the button, and return what is said about it unasked."""
        self.presses += 1
        return b"" if self.deaf else spoken(0, ["START"])
