"""A fixture on a serial port: lid, clamp, relays, lock, start button, lamps, bias, unit type.

Requests, each answered with the whole state (see `fixturestate`), but HELLO; lines and numbers as
`serialline` describes:

| request | does |
|---|---|
| `HELLO` | answers `fixture=NAME protocol=1` |
| `STATE` | nothing |
| `LOCK on`, `LOCK off` | locks the lid; refuses while it is open, and off while the bias is on |
| `CLAMP on`, `CLAMP off` | `clamp=moving` until it has; refuses on while the lid is open |
| `RELAYS n` | connects terminal set n, 0 none; refuses all but 0 while the lid is open |
| `BIAS on`, `BIAS off` | switches the bias supply; refuses on unless closed, locked and connected |
| `LAMP off`, `busy`, `pass`, `fail`, `void`, `station` | lights one lamp |
| `SAFE` | bias off and relays to 0, whatever else |

Unasked: `0 LID open` and `0 START` at once when it happens. The fixture must cut relays and bias
off by itself when the lid opens, and when it hears nothing for a second while the bias is on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from station.errors import FixtureError, StationError, stopped
from station.hardware.attached.biasvoltmeter import BiasWatch
from station.hardware.attached.fixturestate import MOVING, NO_UNIT_TYPE, FixtureState, state_of
from station.hardware.files.serialtables import FixtureTable, HeldModel
from station.hardware.ports.conversation import Conversation, Party, never
from station.hardware.ports.serialport import OpenPort
from station.hardware.protocols.clock import Clock
from station.hardware.protocols.fixture import Lamp, OnUnsafe

BUTTON_POLL_S = 0.1
SWITCHES_OFF = frozenset({"SAFE", "BIAS off", "RELAYS 0", "CLAMP off", "LOCK off"})


class SerialFixture:
    """Implements Fixture; safe to use from any thread.

    Parameters
    ----------
    table : FixtureTable
        The station file's [fixture].
    open_port : callable
        Opens its port.
    clock : Clock
        Measures every limit.
    bias_watch : BiasWatch or None
        Proves by an instrument that the bias came and went, where the station has one.
    """

    def __init__(
        self,
        table: FixtureTable,
        open_port: OpenPort,
        clock: Clock,
        bias_watch: BiasWatch | None = None,
    ) -> None:
        party = Party("fixture", table.name, table.port, table.answer_limit_s, table.tries)
        self._table = table
        self._clock = clock
        self._bias_watch = bias_watch
        self._talk = Conversation(party, open_port, clock, self._unasked)
        self._on_unsafe: OnUnsafe | None = None
        self._off = threading.Event()  # nothing may be switched on; cleared by the next start
        self._bias_was_on = False
        self._bias_since_s: float | None = None

    def secure(self, serial: str, model: str) -> None:  # noqa: ARG002 - every unit of a model alike
        """Lock, clamp and connect the unit, and bring its bias up; undo all of it on failure."""
        held = self._table.held(model)
        if held is None:
            raise FixtureError(
                f"The fixture has no place for a {model}.",
                "Take it to another station, or add it to [fixture] in the station file.",
            )
        self.check_closed()
        self._check_unit_type(held)
        try:
            self._connect(held)
        except StationError:
            with suppress(FixtureError):  # what stopped the securing is what must be told
                self.release()
            raise

    def await_start(self, stop: threading.Event, on_waiting: Callable[[], None]) -> None:
        """Wait for the start button, if the station file says so; ends what `fall_safe` forbade.

        Whoever calls `fall_safe` sets `stop` first: then either this sees it, or `secure` does.
        """
        self._off.clear()
        if stop.is_set():
            raise stopped()
        if self._table.start_limit_s is None:
            return
        on_waiting()
        pressed = self.state().presses
        deadline_s = self._clock.monotonic_s() + self._table.start_limit_s
        while (state := self.state()).presses == pressed or not state.lid_closed:
            if stop.is_set():
                raise stopped()
            if self._clock.monotonic_s() > deadline_s:
                raise FixtureError(
                    "Nobody pressed the start button.",
                    "Scan the unit again, close the lid and press start.",
                )
            self._clock.wait(BUTTON_POLL_S)

    def state(self) -> FixtureState:
        """Return the state at this moment; raise FixtureError."""
        return state_of(self._talk.ask("STATE"))

    def lid_closed(self) -> bool:
        """Return whether the lid is closed at this moment; raise FixtureError."""
        return self.state().lid_closed

    def check_closed(self) -> None:
        """Raise FixtureError if the lid is not known to be closed."""
        if not self.state().lid_closed:
            raise FixtureError("The fixture lid is open.", "Close it, then scan again.")

    @contextmanager
    def watched(self, on_unsafe: OnUnsafe) -> Iterator[None]:
        """Watch lid and line over a sweep from a thread; leaving looks once more."""
        before = self.state()
        watch = Watch(self, before, self._talk.sessions, on_unsafe)
        self._on_unsafe = watch.tell
        thread = threading.Thread(target=watch.go, name="fixture watch", daemon=True)
        thread.start()
        try:
            yield
        finally:
            watch.over.set()
            thread.join()
            self._on_unsafe = None
            watch.look()

    def bias_on_for_s(self) -> float | None:
        """Return how long this unit's bias has been on; None if it is not."""
        since_s = self._bias_since_s
        return None if since_s is None else self._clock.monotonic_s() - since_s

    def fall_safe(self) -> None:
        """Switch bias and relays off at once, and let nothing be switched on before a new start."""
        self._off.set()
        self._checked("SAFE", lambda state: not state.bias_on and state.relays == 0)

    def show(self, lamp: Lamp) -> None:
        """Light one lamp."""
        self._talk.ask("LAMP", lamp)

    def release(self) -> None:
        """Switch the bias off and see it gone, then disconnect, unclamp and unlock.

        Raises FixtureError, and leaves the lid locked, if the bias is not known to have decayed.
        """
        state = self.state()
        self._bias_since_s = None
        if state.bias_on or self._bias_was_on:
            self._bias_was_on = True
            self._checked("BIAS off", lambda now: not now.bias_on)
            if self._bias_watch is not None:
                self._bias_watch.await_decay()
            self._bias_was_on = False
        self._checked("RELAYS 0", lambda now: now.relays == 0)
        if self._moved("CLAMP off").lid_closed:
            self._checked("LOCK off", lambda now: not now.locked)

    def close(self) -> None:
        """Switch everything off, if it was ever talked to, and give the port back."""
        if self._talk.sessions == 0:
            return
        with suppress(FixtureError):  # a fixture that is gone has its own interlock
            self.fall_safe()
        self._talk.close()

    def interrupted(self, before: FixtureState, sessions: int) -> FixtureError | None:
        """Return why a sweep that began in a state can no longer be trusted; None if it can."""
        now = self.state()
        if self._talk.sessions != sessions:
            return FixtureError(
                "The connection to the fixture broke while the sweep played.",
                "Check its cable, then scan the unit again.",
            )
        if not now.lid_closed or now.openings != before.openings:
            return opened()
        if now.relays != before.relays or now.bias_on != before.bias_on:
            return FixtureError(
                "The fixture cut the unit off while the sweep played.",
                "Check the fixture, then scan the unit again.",
            )
        return None

    def listen(self) -> None:
        """Hear what the fixture says unasked until it is time to ask again."""
        self._talk.listen(self._table.watch_interval_s)

    def _connect(self, held: HeldModel) -> None:
        self._checked("LOCK on", lambda state: state.locked)
        if self._moved("CLAMP on").clamp != "on":
            raise FixtureError(
                "The clamp did not close.", "Seat the unit in its place, then scan again."
            )
        self._checked(f"RELAYS {held.relays}", lambda state: state.relays == held.relays)
        if held.bias:
            if self._bias_watch is not None:
                self._bias_watch.check_discharged()
            self._bias_was_on = True
            self._checked("BIAS on", lambda state: state.bias_on)
            self._bias_since_s = self._clock.monotonic_s()
            if self._bias_watch is not None:
                self._bias_watch.await_rise()

    def _check_unit_type(self, held: HeldModel) -> None:
        found = self.state().unit_type
        if held.unit_type is None or found == held.unit_type:
            return
        if found == NO_UNIT_TYPE:
            raise FixtureError(
                "The fixture is empty.", "Put the unit into its place, close the lid, scan again."
            )
        raise FixtureError(
            f"The label says {held.model}, and the fixture holds something else ({found}).",
            "Put in the unit whose label you scan.",
        )

    def _checked(self, request: str, holds: Callable[[FixtureState], bool]) -> FixtureState:
        """Ask for something and see that it was done."""
        state = state_of(self._talk.ask(*request.split(), unless=self._forbidden(request)))
        if not holds(state):
            raise FixtureError(
                f"The fixture did not do what it was told ({request}).",
                "Call the technician; touch nothing inside.",
            )
        return state

    def _forbidden(self, request: str) -> Callable[[], bool]:
        """Return what holds a request back: nothing that switches off, everything else when off."""
        return never if request in SWITCHES_OFF else self._off.is_set

    def _moved(self, request: str) -> FixtureState:
        """Ask for a movement and wait until it is over."""
        state = state_of(self._talk.ask(*request.split(), unless=self._forbidden(request)))
        deadline_s = self._clock.monotonic_s() + self._table.move_limit_s
        while state.clamp == MOVING:
            if self._clock.monotonic_s() > deadline_s:
                raise FixtureError(
                    "The clamp does not come to rest.",
                    "Keep hands out; check what blocks it and its air supply.",
                )
            self._clock.wait(self._table.watch_interval_s)
            state = self.state()
        return state

    def _unasked(self, words: tuple[str, ...]) -> None:
        """Take in what the fixture says by itself; called while it is talked to."""
        on_unsafe = self._on_unsafe
        if words == ("LID", "open") and on_unsafe is not None:
            on_unsafe(opened())


class Watch:
    """Looks at a fixture again and again from a thread of its own, and tells the first danger."""

    def __init__(
        self, fixture: SerialFixture, before: FixtureState, sessions: int, on_unsafe: OnUnsafe
    ) -> None:
        self.over = threading.Event()
        self._fixture = fixture
        self._before = before
        self._sessions = sessions
        self._on_unsafe = on_unsafe
        self._told = threading.Event()

    def go(self) -> None:
        """Watch until it is over; whatever ends the watch before that is a danger itself."""
        try:
            while not self.over.is_set() and not self._told.is_set():
                self._listen()
                self.look()
        finally:
            if not self.over.is_set():
                self.tell(
                    FixtureError(
                        "The watch over the fixture broke off.", "Start the station again."
                    )
                )

    def look(self) -> None:
        """Look once."""
        try:
            cause = self._fixture.interrupted(self._before, self._sessions)
        except FixtureError as error:
            cause = error
        if cause is not None:
            self.tell(cause)

    def tell(self, cause: FixtureError) -> None:
        """Tell a danger, once."""
        if not self._told.is_set():
            self._told.set()
            self._on_unsafe(cause)

    def _listen(self) -> None:
        try:
            self._fixture.listen()
        except FixtureError as error:
            self.tell(error)


def opened() -> FixtureError:
    """Return that the lid was opened in mid-sweep."""
    return FixtureError(
        "The fixture lid was opened while the sweep played.",
        "Close the lid, then scan the unit again.",
    )
