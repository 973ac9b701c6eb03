"""What the big word says and what stands under it: made from a report, or from an error."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from station.cycle.unit.report import UnitReport
from station.errors import (
    NotAllowedError,
    StationError,
    StationFaultError,
    StoppedError,
    UnknownSerialError,
)
from station.judging.verdicts.decisionwords import decision_sentence
from station.judging.verdicts.verdict import AppliedBand, Judgement, Verdict
from station.screens.line.ports import Desk
from station.screens.shared import wording


class Kind(StrEnum):
    """What the screen can say; only the first three are verdicts."""

    PASS = "pass"
    FAIL = "fail"
    VOID = "void"
    STATION = "station"
    SERIAL = "serial"
    STOP = "stop"
    BADGE = "badge"
    TRIAL = "trial"
    SCAN = "scan"
    WAIT = "wait"
    START = "start"


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """One answer: the word, the one next step, why, and the curve that shows it best."""

    kind: Kind
    next_step: str
    details: tuple[str, ...] = ()
    reading: str = ""
    band: AppliedBand | None = None

    @property
    def word(self) -> str:
        """The big word."""
        return wording.BIG_WORDS[self.kind]


READY = Outcome(Kind.SCAN, wording.SCAN_NEXT)
SIGNING = Outcome(Kind.WAIT, wording.BADGE_LOOKED_UP)
RUNNING = Outcome(Kind.WAIT, wording.TEST_STARTS)
TO_START = Outcome(Kind.START, wording.PRESS_START)
STATION_BUG = Outcome(Kind.STATION, wording.BUG_REMEDY, (wording.BUG_HAPPENED,))


SWITCHING_OFF = Outcome(Kind.STOP, wording.SWITCHING_OFF)
ALL_OFF = Outcome(Kind.STOP, wording.ALL_OFF_GO_ON, (wording.ALL_OFF,))
NOT_KNOWN_TO_BE_OFF = StationFaultError(wording.BUG_HAPPENED, wording.USE_THE_SWITCH)


def outcome_of_report(report: UnitReport) -> Outcome:
    """Return the answer to a finished test; the last run decides."""
    judgement = report.final.judgement
    reading = shown_reading(judgement)
    details = [wording.cause_line(cause) for cause in judgement.causes]
    if judgement.verdict is Verdict.PASS and reading in judgement.margins:
        details.append(wording.margin_line(reading, judgement.margins[reading]))
    if sentence := decision_sentence(judgement):
        details.append(sentence)
    if len(report.runs) > 1:
        details.append(wording.attempts_line(len(report.runs)))
    details += report.notices
    kind = Kind(judgement.verdict.value)
    next_step = wording.one_line(judgement.next_step)
    next_step = next_step or wording.NEXT_WITHOUT_ADVICE[judgement.verdict]
    if report.final.trial:  # whatever it says, the unit is not packed for it
        details.insert(0, wording.trial_line(judgement.verdict, next_step))
        kind, next_step = Kind.TRIAL, wording.TRIAL_NEXT
    return Outcome(
        kind,
        next_step,
        tuple(details),
        reading,
        judgement.bands.get(reading),
    )


def outcome_of_error(error: StationError) -> Outcome:
    """Return the answer when nothing was judged: never a verdict."""
    if isinstance(error, StoppedError):
        kind = Kind.STOP
    elif isinstance(error, UnknownSerialError):
        kind = Kind.SERIAL
    elif isinstance(error, NotAllowedError):
        kind = Kind.BADGE
    else:
        kind = Kind.STATION
    return Outcome(kind, wording.one_line(error.remedy), (wording.one_line(error.happened),))


def ready_for(operator: str | None, *, signs_in: bool) -> Outcome:
    """Return the answer while nothing is tested: scan a unit, or first a badge."""
    if signs_in and operator is None:
        return Outcome(Kind.SCAN, wording.SCAN_BADGE)
    return READY


def outcome_of_signing(desk: Desk, badge: str | None) -> Outcome:
    """Sign in whose badge it is, or sign out without one; return the answer."""
    try:
        if badge is None:
            desk.sign_out()
            return ready_for(None, signs_in=True)
        name = desk.sign_in(badge).name
    except StationError as error:
        return outcome_of_error(error)
    return Outcome(Kind.SCAN, wording.SCAN_NEXT, (wording.signed_in_line(name),))


def outcome_of_all_off(error: StationError | None) -> Outcome:
    """Return the answer to the key that switches everything off."""
    if error is None:
        return ALL_OFF
    happened = wording.one_line(error.happened)
    return Outcome(Kind.STATION, wording.USE_THE_SWITCH, (happened, wording.NOT_ALL_OFF))


def shown_reading(judgement: Judgement) -> str:
    """Return whose band to draw: the worst cause that has one, else the response, else any."""
    for cause in judgement.causes:
        if cause.reading in judgement.bands:
            return cause.reading
    if "response" in judgement.bands:
        return "response"
    return next(iter(judgement.bands), "")
