"""Asking a device on a serial line: numbered, timed, repeated, reconnected.

Nothing is believed without a check sum and the number of the request it answers. What a device
says unasked is handed over while it is talked to, so whoever takes it must not talk to it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from station.errors import FixtureError, stopped
from station.hardware.ports.linereader import LineReader
from station.hardware.ports.serialline import HIGHEST_NUMBER, UNASKED, Line, decoded, encoded
from station.hardware.ports.serialport import OpenPort, Port, PortLostError, gone
from station.hardware.protocols.clock import Clock

PROTOCOL = "1"
Facts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Party:
    """Whom the station talks to: `kind` is the key its name stands under in its greeting."""

    kind: str
    name: str
    port: str
    answer_limit_s: float
    tries: int


@dataclass(frozen=True, slots=True)
class Refusal:
    """A device's NO, with its words."""

    why: str


def never() -> bool:
    """Hold nothing back."""
    return False


class Conversation:
    """One line to one device; safe to use from any thread, one request at a time.

    The port is opened by the first request and again after it was lost; the device must greet
    with the right name each time. `sessions` counts how often it was opened.
    """

    def __init__(
        self,
        party: Party,
        open_port: OpenPort,
        clock: Clock,
        on_unasked: Callable[[tuple[str, ...]], None],
    ) -> None:
        self.party = party
        self.sessions = 0
        self.greeting: Facts = {}
        self._open_port = open_port
        self._clock = clock
        self._on_unasked = on_unasked
        self._talking = threading.Lock()
        self._port: Port | None = None
        self._reader = LineReader()
        self._number = 0
        self._heard_before = 0

    def ask(self, *words: str, unless: Callable[[], bool] = never) -> Facts:
        """Return the facts of a device's answer.

        `unless` is looked at when no other request can come before this one any more.

        Raises
        ------
        StoppedError
            If `unless` holds; nothing is sent then.
        FixtureError
            If the port is gone, another device is on it, it does not answer in time, what it
            says cannot be understood, or it refuses.
        """
        with self._talking:
            answer = self._asked(words, unless)
        if isinstance(answer, Refusal):
            raise FixtureError(
                f"The {self.party.kind} refuses {words[0]}: {answer.why}.",
                "Do what it says, then scan again.",
            )
        return answer

    def listen(self, limit_s: float) -> None:
        """Hear what is said unasked until the limit is over; raise FixtureError if it is gone."""
        with self._talking:
            if self._port is None:
                return
            deadline_s = self._clock.monotonic_s() + limit_s
            while (left_s := deadline_s - self._clock.monotonic_s()) > 0.0:
                try:
                    self._hear(self._port, left_s)
                except PortLostError as error:
                    self._hang_up()
                    raise gone(self.party.kind, self.party.port, str(error)) from error

    def close(self) -> None:
        """Give the port back."""
        with self._talking:
            self._hang_up()

    def _asked(self, words: tuple[str, ...], unless: Callable[[], bool]) -> Facts | Refusal:
        lost: PortLostError | None = None
        self._heard_before = self._reader.heard_bytes
        for _try in range(self.party.tries):
            try:
                port = self._opened()
                if unless():
                    raise stopped()
                answer = self._answer(port, words)
            except PortLostError as error:
                lost = error
                self._hang_up()
                continue
            lost = None
            if answer is not None:
                return answer
            self._reader.forget_rest()  # or half an answer would spoil the next one
        if lost is not None:
            raise gone(self.party.kind, self.party.port, str(lost)) from lost
        raise self._silent()

    def _opened(self) -> Port:
        if self._port is not None:
            return self._port
        port = self._open_port()
        self._port, self._reader, self._heard_before = port, LineReader(), 0
        self.sessions += 1
        greeting = self._answer(port, ("HELLO",))
        if greeting is None or isinstance(greeting, Refusal):
            silent = self._silent()
            self._hang_up()
            raise silent
        self._check_greeting(greeting)
        self.greeting = greeting
        return port

    def _check_greeting(self, greeting: Facts) -> None:
        kind, wanted = self.party.kind, self.party.name
        found, protocol = greeting.get(kind), greeting.get("protocol")
        if (found, protocol) == (wanted, PROTOCOL):
            return
        self._hang_up()
        if found is None:
            other = next(iter(greeting), "something else")
            raise FixtureError(
                f"On {self.party.port} there is no {kind} but a {other}.",
                "Correct the ports in the station file.",
            )
        if found != wanted:
            raise FixtureError(
                f'On {self.party.port} there is the {kind} "{found}", and the station file '
                f'wants "{wanted}".',
                "Plug the right one in, or correct port or name in the station file.",
            )
        raise FixtureError(
            f"The {kind} speaks protocol {protocol}, the station speaks {PROTOCOL}.",
            f"Bring the {kind}'s program and the station to the same version.",
        )

    def _answer(self, port: Port, words: tuple[str, ...]) -> Facts | Refusal | None:
        """Ask once; None if no answer to this very request came in time."""
        self._number = self._number % HIGHEST_NUMBER + 1
        port.write(encoded(Line(self._number, words)))
        deadline_s = self._clock.monotonic_s() + self.party.answer_limit_s
        while (left_s := deadline_s - self._clock.monotonic_s()) > 0.0:
            for line in self._hear(port, left_s):
                if line.number != self._number:
                    continue
                if line.words[0] == "NO":
                    return Refusal(" ".join(line.words[1:]) or "it does not say why")
                if line.words[0] == "OK" and (facts := facts_of(line.words[1:])) is not None:
                    return facts
        return None

    def _hear(self, port: Port, limit_s: float) -> list[Line]:
        """Return the lines with a number that arrive at once; hand over what is unasked."""
        lines = []
        for received in self._reader.lines(port.read(limit_s)):
            line = decoded(received)
            if line is None:
                continue
            if line.number == UNASKED:
                self._on_unasked(line.words)
            else:
                lines.append(line)
        return lines

    def _silent(self) -> FixtureError:
        kind, port = self.party.kind, self.party.port
        if self._reader.heard_bytes > self._heard_before:
            return FixtureError(
                f"What the {kind} on {port} says cannot be understood.",
                "Check baud in the station file, the cable and its shield, then scan again.",
            )
        return FixtureError(
            f"The {kind} on {port} does not answer.",
            "Check that it is switched on, and its cable; then scan again.",
        )

    def _hang_up(self) -> None:
        if self._port is not None:
            self._port.close()
            self._port = None


def facts_of(words: tuple[str, ...]) -> Facts | None:
    """Return key=value words as a mapping; None if one is none or a key comes twice."""
    pairs = [word.partition("=") for word in words]
    if not all(key and separator for key, separator, _ in pairs):
        return None
    facts = {key: value for key, _, value in pairs}
    return facts if len(facts) == len(pairs) else None
