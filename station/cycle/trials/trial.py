"""One trial of the unit in the fixture, judged but not stored, and when another one is due.

The line stores every trial before it tells anybody; a study of detection power stores none. Both
must go by the same rule, or the study would say nothing about the line: it stands here.
"""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from station.analysis.measure import Measured
from station.analysis.plan import Plan
from station.analysis.readings import Readings
from station.analysis.recording import Recording
from station.analysis.signals.sweep import Sweep, stimulus_voltage
from station.cycle.bench.bench import Bench, recording_of
from station.cycle.bench.guard import guarded
from station.cycle.trials.agreement import settled
from station.cycle.trials.settling import stood_still
from station.hardware.protocols.audio import MeterCallback
from station.judging.files.planning import plan_of, steps_of, sweep_of
from station.judging.files.shelf import ShelvedLimits
from station.judging.verdicts.judged import judged_recording
from station.judging.verdicts.noiseguard import is_void_of_the_room
from station.judging.verdicts.verdict import Judgement, Verdict


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be done with the unit in the fixture."""

    serial: str
    shelved: ShelvedLimits
    sweep: Sweep
    plan: Plan
    steps: tuple[Sweep, ...] = ()  # played behind the sweep, in one piece with it


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A recording with what was read from it and the verdict on it."""

    recording: Recording
    measured: Measured
    judgement: Judgement
    waits_for_agreement: bool = False  # void until other sweeps tell the unit from the room
    settling: bool = False  # void until what fails stands still

    @property
    def readings(self) -> Readings:
        """What was read from the recording."""
        return self.measured.readings


class Tried(Protocol):
    """What decides whether a unit is tried again; `recording` is None if there was none."""

    @property
    def judgement(self) -> Judgement:
        """The verdict."""

    @property
    def recording(self) -> object | None:
        """What was recorded, or where it is."""


SomeTried = TypeVar("SomeTried", bound=Tried)


def order_for(serial: str, shelved: ShelvedLimits) -> Order:
    """Return what a limit file asks to be done with a unit."""
    limits = shelved.limits
    return Order(serial, shelved, sweep_of(limits), plan_of(limits), steps_of(limits))


def played(
    bench: Bench, order: Order, *, on_meter: MeterCallback, stop: threading.Event
) -> Recording:
    """Play the sweeps into the unit in the fixture and return what came back.

    Raises
    ------
    FixtureError
        If the lid is open; nothing played.
    UnsafeError
        If it was no longer safe to play; the output is silent.
    """
    output = stimulus_voltage((order.sweep, *order.steps)) / bench.station.audio.output_full_scale_v
    with guarded(bench, order.shelved.limits, output, stop):
        capture = bench.audio.play_and_record(output, on_meter=on_meter, stop=stop)
    recording = recording_of(capture, bench.station, order.sweep, bench.microphone_response)
    return recording.cut_into(order.steps)


def judged(recording: Recording, order: Order, earlier: Sequence[Trial] = ()) -> Trial:
    """Return a recording with its readings and its verdict.

    `earlier` are the trials of the same scan. They count only where no ambient microphone can
    tell the room from the unit, and for numbers that may be settling; else the verdict follows
    from the recording alone.
    """
    limits = order.shelved.limits
    found = judged_recording(recording, order.plan, limits)
    waiting = [other for other in earlier if other.settling or other.waits_for_agreement]
    before = [other.readings for other in waiting]
    verdict = stood_still(found.judgement, found.measured.readings, before, limits)
    if verdict is not found.judgement:
        return Trial(recording, found.measured, verdict, settling=True)
    trial = Trial(recording, found.measured, found.judgement)
    if found.room_told:
        return trial
    verdict = settled(found.judgement, trial, waiting, order.plan, limits.repeats.noise)
    return replace(trial, judgement=verdict, waits_for_agreement=verdict is not found.judgement)


def trials(
    shelved: ShelvedLimits,
    trial: Callable[[int], SomeTried],
    on_repeat: Callable[[int, str], None],
) -> Iterator[SomeTried]:
    """Yield trials until one is not void or the limit file's repeats are used up.

    Voids that a noise in the room made are counted apart from all others. `trial` carries out
    one, given its number from 1; `on_repeat` is told the next one's number and why it is due.
    One that ended without a recording is not repeated by itself: the device is gone, and the
    operator must see that.
    """
    repeats = shelved.limits.repeats
    left = {True: repeats.noise, False: repeats.void}
    for number in itertools.count(1):
        tried = trial(number)
        yield tried
        if tried.judgement.verdict is not Verdict.VOID or tried.recording is None:
            return
        by_room = is_void_of_the_room(tried.judgement)
        if left[by_room] == 0:
            return
        left[by_room] -= 1
        on_repeat(number + 1, tried.judgement.causes[0].happened)
