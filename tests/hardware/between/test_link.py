"""Messages arrive whole, with their samples, however the bytes come."""

from __future__ import annotations

import socket
from collections.abc import Iterator

import numpy as np
import pytest

from station.hardware.between.deviceinfo import DeviceInfo
from station.hardware.between.link import Link
from station.hardware.between.messages import (
    Fault,
    Message,
    Moved,
    Opened,
    Ready,
    Record,
    Recorded,
    Stop,
    Stopped,
)

MESSAGES: tuple[Message, ...] = (
    Ready((DeviceInfo("Übertrager: 7 (hw:1,0)", "ALSA", 4, 2, 96000.0),)),
    Ready(()),
    Record(3, 96000.0, 1024, 0, (2, 0, 1)),
    Opened(),
    Moved(4096, 2048, (0.5, 0.0)),
    Recorded(("input overflow",), 96_000.0),
    Stop(),
    Stopped(),
    Fault("open", -9985, "Device unavailable"),
)


@pytest.fixture
def ends() -> Iterator[tuple[socket.socket, socket.socket]]:
    one, other = socket.socketpair()
    with one, other:
        yield one, other


@pytest.mark.parametrize("message", MESSAGES, ids=lambda message: type(message).__name__)
def test_every_message_arrives_as_it_was_sent(
    ends: tuple[socket.socket, socket.socket], message: Message
) -> None:
    samples = np.array([0.25, -1.0, np.nan], dtype=np.float32)
    Link(ends[0]).send(message, samples)
    received = Link(ends[1]).receive(5.0)
    assert received is not None
    assert received[0] == message
    np.testing.assert_array_equal(received[1], samples)


def test_a_message_in_pieces_is_kept_until_it_is_whole(
    ends: tuple[socket.socket, socket.socket],
) -> None:
    spool, copy = socket.socketpair()
    with spool, copy:
        Link(spool).send(Recorded((), 0.0), np.ones(5, dtype=np.float32))
        whole = copy.recv(1 << 16)
    link = Link(ends[1])
    for place in range(len(whole) - 1):
        ends[0].sendall(whole[place : place + 1])
        assert link.receive(0.0) is None
        assert link.receive(1e-4) is None
    ends[0].sendall(whole[-1:])
    received = link.receive(5.0)
    assert received is not None
    np.testing.assert_array_equal(received[1], np.ones(5))


def test_two_messages_at_once_arrive_one_after_the_other(
    ends: tuple[socket.socket, socket.socket],
) -> None:
    sender, receiver = Link(ends[0]), Link(ends[1])
    sender.send(Opened())
    sender.send(Stopped())
    arrived = [receiver.receive(5.0), receiver.receive(5.0)]
    assert [received[0] for received in arrived if received] == [Opened(), Stopped()]


def test_an_end_that_is_gone_is_told(ends: tuple[socket.socket, socket.socket]) -> None:
    Link(ends[0]).close()
    with pytest.raises(EOFError):
        Link(ends[1]).receive(5.0)


def test_an_end_that_does_not_listen_is_told_within_the_limit(
    ends: tuple[socket.socket, socket.socket],
) -> None:
    with pytest.raises(TimeoutError):
        Link(ends[0]).send(Stop(), np.zeros(10_000_000, dtype=np.float32), limit_s=0.05)
