"""What bad cables, bad programs and bad luck make of a line; by a seed, so that it comes again."""

from __future__ import annotations

import random

LONGEST_RANDOM_BYTES = 200


class Noise:
    """Turns what a device sends into something else, in one of many ways at a time.

    `keeps` says how often a line goes through unharmed. What it made is counted by kind.
    """

    def __init__(self, seed: int, keeps: float = 0.0) -> None:
        self.random = random.Random(seed)
        self.keeps = keeps
        self.lines = 0
        self._earlier = [b""]

    def __call__(self, sent: bytes) -> bytes:
        if not sent:
            return sent
        self.lines += 1
        if self.random.random() < self.keeps:
            return sent
        self._earlier = [*self._earlier[-20:], sent]
        kinds = (
            self.random_bytes, self.flipped, self.cut, self.without_end, self.spliced,
            self.replayed, self.respelled, self.number_changed, self.endless, self.nothing,
            self.swapped_words,
        )  # fmt: skip
        return self.random.choice(kinds)(sent)

    def random_bytes(self, _sent: bytes) -> bytes:
        return self.random.randbytes(self.random.randrange(LONGEST_RANDOM_BYTES)) + b"\n"

    def flipped(self, sent: bytes) -> bytes:
        """Return the line with a few bits turned over."""
        damaged = bytearray(sent)
        for _bit in range(self.random.randint(1, 12)):
            damaged[self.random.randrange(len(damaged))] ^= 1 << self.random.randrange(8)
        return bytes(damaged) if bytes(damaged) != sent else b"\n"

    def cut(self, sent: bytes) -> bytes:
        return sent[: self.random.randrange(len(sent) - 1)] + b"\n"

    def without_end(self, sent: bytes) -> bytes:
        return sent[:-1]

    def spliced(self, sent: bytes) -> bytes:
        """Return the head of one line and the tail of another."""
        other = self.random.choice(self._earlier)
        return sent[: self.random.randrange(len(sent) - 1)] + other[len(other) // 2 :] + b"\n"

    def replayed(self, _sent: bytes) -> bytes:
        """Return answers to earlier requests."""
        return b"".join(self.random.choices(self._earlier[:-1], k=2))

    def respelled(self, sent: bytes) -> bytes:
        """Return a state that would be good news, with the check sum of the bad one."""
        better = sent.replace(b"lid=open", b"lid=closed").replace(b"NO lid", b"OK lid")
        return better if better != sent else self.flipped(sent)

    def number_changed(self, sent: bytes) -> bytes:
        return b"%d " % self.random.randrange(10_000) + sent.partition(b" ")[2]

    def endless(self, _sent: bytes) -> bytes:
        return b"\x55" * 5000

    def nothing(self, _sent: bytes) -> bytes:
        return b""

    def swapped_words(self, sent: bytes) -> bytes:
        words = sent[:-1].split(b" ")
        self.random.shuffle(words)
        shuffled = b" ".join(words) + b"\n"
        return shuffled if shuffled != sent else b"\n"
