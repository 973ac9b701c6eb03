"""Simulated serial devices in a process of their own, each behind a pseudo-terminal.

Run as a program: ``serial_process.py FOLDER NAME [KEY=VALUE ...]``. FOLDER gets links `fixture`,
`turntable`, `voltmeter` and `scanner` to the terminals; NAME is what fixture and turntable greet
with, and KEY=VALUE are faults of the fixture's controller. It says "ready" when they are there,
carries out every line of its standard input (see `Bench.told`) and answers it with the time at
which it was done, and leaves when its standard input ends.
"""

from __future__ import annotations

import os
import random
import select
import sys
import time
import tty
from collections.abc import Callable
from pathlib import Path

from station.simulation.bench.controller import SimulatedController
from station.simulation.bench.instruments import SimulatedTurntable, SimulatedVoltmeter

CHUNK_BYTES = 4096


class Terminal:
    """One pseudo-terminal with a device behind it, and a fault of the line between."""

    def __init__(self, link: Path, receive: Callable[[bytes], bytes]) -> None:
        self.link = link
        self.receive = receive
        self.fault = "clean"
        self.value = 0.0
        self.late: list[tuple[float, bytes]] = []  # when to send what
        self._random = random.Random(1)
        self._near: int | None = None
        self._far: int | None = None
        self.plug()

    @property
    def near(self) -> int | None:
        return self._near

    def plug(self) -> None:
        self._near, self._far = os.openpty()
        tty.setraw(self._far)
        fresh = self.link.with_suffix(".new")
        fresh.symlink_to(os.ttyname(self._far))
        fresh.replace(self.link)

    def unplug(self) -> None:
        assert self._near is not None
        assert self._far is not None
        self.link.unlink(missing_ok=True)
        os.close(self._near)
        os.close(self._far)
        self._near = self._far = None
        self.late.clear()

    def serve(self) -> None:
        """Take in what has come and answer it as the line lets it."""
        assert self._near is not None
        answer = self.receive(os.read(self._near, CHUNK_BYTES))
        if answer:
            self.send(self.through_the_line(answer))

    def through_the_line(self, answer: bytes) -> bytes:  # noqa: PLR0911 - a fault a line
        match self.fault:
            case "silent":
                return b""
            case "garbage":
                return self._random.randbytes(40) + b"\n" + answer + self._random.randbytes(40)
            case "nothing_but_garbage":
                return self._random.randbytes(40) + b"\n"
            case "cut":
                return answer[: len(answer) // 2]
            case "doubled":
                return answer * 2
            case "slow":
                self.late.append((time.monotonic() + self.value, answer))
                return b""
            case "in_pieces":
                now_s = time.monotonic()
                self.late += [
                    (now_s + self.value * place, bytes([byte])) for place, byte in enumerate(answer)
                ]
                return b""
        return answer

    def send(self, data: bytes) -> None:
        if self._near is not None and data:
            os.write(self._near, data)

    def send_late(self, now_s: float) -> None:
        due = [data for at_s, data in self.late if at_s <= now_s]
        self.late = [(at_s, data) for at_s, data in self.late if at_s > now_s]
        for data in due:
            self.send(data)


class Bench:
    """All devices, and what somebody does to them."""

    def __init__(self, folder: Path, controller: SimulatedController) -> None:
        self.controller = controller
        self.voltmeter = SimulatedVoltmeter()
        controller.bias_supply = self.voltmeter.switch
        turntable = SimulatedTurntable(controller.name, looks=2)
        self.terminals = {
            "fixture": Terminal(folder / "fixture", controller.receive),
            "turntable": Terminal(folder / "turntable", turntable.receive),
            "voltmeter": Terminal(folder / "voltmeter", self.voltmeter.receive),
            "scanner": Terminal(folder / "scanner", lambda _data: b""),
        }

    def told(self, words: list[str]) -> None:
        """Carry out what the test says."""
        match words:
            case ["open"]:
                self.terminals["fixture"].send(self.controller.open_lid())
            case ["open", "unheard"]:
                self.controller.open_lid()
            case ["close"]:
                self.controller.close_lid()
            case ["press"]:
                self.terminals["fixture"].send(self.controller.press_start())
            case ["unit", unit_type]:
                self.controller.unit_type = unit_type
            case ["line", name, fault, value]:
                self.terminals[name].fault = fault
                self.terminals[name].value = float(value)
            case ["unplug", name]:
                self.terminals[name].unplug()
            case ["plug", name]:
                self.terminals[name].plug()
            case ["scan", *labels]:
                self.terminals["scanner"].send("".join(f"{one}\r\n" for one in labels).encode())
            case ["stuck", "bias"]:
                self.voltmeter.remaining_ratio = 1.0
            case _:
                raise ValueError(f"unknown: {words}")

    def look(self) -> bool:
        """Serve whatever is due; return whether standard input goes on."""
        now_s = time.monotonic()
        due_s = [at_s for one in self.terminals.values() for at_s, _ in one.late]
        wait_s = max(min(due_s) - now_s, 0.0) if due_s else None
        near = {one.near: one for one in self.terminals.values() if one.near is not None}
        ready, _, _ = select.select([0, *near], [], [], wait_s)
        for descriptor in ready:
            if descriptor in near:
                near[descriptor].serve()
        for terminal in self.terminals.values():
            terminal.send_late(time.monotonic())
        if 0 in ready:
            line = sys.stdin.readline()
            if not line:
                return False
            at_s = time.monotonic()
            self.told(line.split())
            print(at_s, flush=True)
        return True


def main(folder: Path, name: str, faults: list[str]) -> None:
    """Serve until standard input ends."""
    values = dict(fault.split("=") for fault in faults)
    unit_type = values.pop("unit_type", "-")
    bench = Bench(folder, SimulatedController(name, unit_type))
    print("ready", flush=True)
    while bench.look():
        continue


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], sys.argv[3:])
