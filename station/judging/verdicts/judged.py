"""From a recording to its verdict, with what a fail owes: was it the room, and what rubs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from station.analysis.acoustic.rubcause import rub_cause
from station.analysis.measure import Measured, measure
from station.analysis.plan import Plan
from station.analysis.readings import Curve, Readings
from station.analysis.recording import Recording
from station.analysis.trust.roomshift import RoomShift, room_shift
from station.errors import NoSignalError
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.judge import judge
from station.judging.verdicts.noiseguard import only_adds, the_rooms, without_the_rooms
from station.judging.verdicts.rubwords import RUB, cause_numbers, with_likely_cause
from station.judging.verdicts.sensorguard import without_the_sensors
from station.judging.verdicts.verdict import Judgement, Verdict

ROOM_PREFIX = "room."


@dataclass(frozen=True, slots=True, eq=False)
class JudgedRecording:
    """What was read from a recording, and the verdict; all of it follows from the recording alone.

    `room_told` says of a fail whether the ambient microphone could tell the room from the unit.
    """

    measured: Measured
    judgement: Judgement
    room_told: bool


def judged_recording(recording: Recording, plan: Plan, limits: LimitFile) -> JudgedRecording:
    """Return a recording's readings and verdict; a fail that the room may have made is void.

    The room is asked only when a unit fails, so that good units cost no time. What it may have
    done to each failing curve is kept as the curve "room.NAME", in dB.
    """
    measured = measure(recording, plan)
    judgement = judge(measured, limits)
    if judgement.verdict is not Verdict.FAIL:
        return JudgedRecording(measured, judgement, room_told=True)
    shift = room_shift(recording, plan)
    if shift is not None:
        measured = with_readings(measured, Readings(curves=failing_shifts(shift, judgement)))
        judgement = of_the_unit(judgement, measured, limits, shift)
    judgement = without_the_sensors(judgement, measured.readings.numbers)
    if judgement.verdict is Verdict.FAIL and any(c.reading in RUB for c in judgement.causes):
        measured, judgement = with_rub_cause(recording, plan, measured, judgement)
    return JudgedRecording(measured, judgement, room_told=shift is not None)


def of_the_unit(
    judgement: Judgement, measured: Measured, limits: LimitFile, shift: RoomShift
) -> Judgement:
    """Return a fail without what the room added to it, void if the room may have made all of it.

    A bang beside a real fault would else be the first cause, and the advice would follow it. What
    is too quiet stays: a section that is silent could be anything in the noise.
    """
    if (found := without_the_rooms(judgement, shift)).verdict is Verdict.VOID:
        return found
    rooms = {cause.reading for cause in the_rooms(judgement, shift) if only_adds(cause)}
    return judge(measured, limits, rooms) if rooms else judgement


def with_rub_cause(
    recording: Recording, plan: Plan, measured: Measured, judgement: Judgement
) -> tuple[Measured, Judgement]:
    """Return readings and verdict of a unit that rubs or buzzes with what most likely does."""
    try:
        found = rub_cause(recording, plan)
    except NoSignalError:
        return measured, judgement
    added = Readings(numbers=cause_numbers(found))
    return with_readings(measured, added), with_likely_cause(judgement, found)


def failing_shifts(shift: RoomShift, judgement: Judgement) -> Mapping[str, Curve]:
    """Return the bounds of those curves that lie outside their limits."""
    failing = {cause.reading for cause in judgement.causes}
    return {
        f"{ROOM_PREFIX}{name}": curve for name, curve in shift.curves.items() if name in failing
    }


def with_readings(measured: Measured, added: Readings) -> Measured:
    """Return measured readings with some more."""
    known = measured.readings
    readings = Readings(
        {**known.numbers, **added.numbers},
        {**known.curves, **added.curves},
        {**known.missing, **added.missing},
    )
    return replace(measured, readings=readings)
