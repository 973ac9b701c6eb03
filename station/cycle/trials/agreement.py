"""Without an ambient microphone: only what every sweep heard at the same instant is the unit's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from station.analysis.plan import Plan
from station.analysis.readings import Readings
from station.analysis.recording import Recording
from station.analysis.trust.sweepagreement import shift_between_sweeps
from station.judging.verdicts.noiseguard import (
    hears_noise,
    may_be_noise,
    void_of,
    without_the_rooms,
)
from station.judging.verdicts.verdict import Judgement, Verdict

ONCE_MORE = "This may be the unit or a noise in the room: the sweep is played again to tell."


class Sweep(Protocol):
    """One sweep as far as it is compared with others."""

    @property
    def recording(self) -> Recording:
        """What was recorded."""

    @property
    def readings(self) -> Readings:
        """What was read from it."""


def settled(
    judgement: Judgement, now: Sweep, earlier: Sequence[Sweep], plan: Plan, allowed: int
) -> Judgement:
    """Return the verdict on a sweep in the light of the earlier ones of the same unit.

    A fail that a noise could have made is void until there are sweeps enough to compare: as many
    as the limit file's repeats for noise allow for what listens beside the sweep, since every
    noise counts there; one for what measures the sweep itself, since two noises as loud as that
    at the same frequency do not happen. The sweep then fails if it agrees with all the earlier
    ones, and is void if not.
    """
    if judgement.verdict is not Verdict.FAIL or not may_be_noise(judgement) or allowed == 0:
        return judgement
    if len(earlier) < (allowed if hears_noise(judgement) else 1):
        return void_of(judgement, ONCE_MORE)
    sweeps = (*earlier, now)
    shift = shift_between_sweeps(
        [sweep.recording for sweep in sweeps], [sweep.readings for sweep in sweeps], plan
    )
    return without_the_rooms(judgement, shift)
