"""What the big word says and what stands under it: made from a report, or from an error."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from station.cycle.report import UnitReport
from station.errors import StationError, StationFaultError, StoppedError, UnknownSerialError
from station.judging.decisionwords import decision_sentence
from station.judging.verdict import AppliedBand, Judgement, Verdict
from station.screens import wording


class Kind(StrEnum):
    """What the screen can say; only the first three are verdicts."""

    PASS = "pass"
    FAIL = "fail"
    VOID = "void"
    STATION = "station"
    SERIAL = "serial"
    STOP = "stop"
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
    return Outcome(
        Kind(judgement.verdict.value),
        wording.one_line(judgement.next_step) or wording.NEXT_WITHOUT_ADVICE[judgement.verdict],
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
    else:
        kind = Kind.STATION
    return Outcome(kind, wording.one_line(error.remedy), (wording.one_line(error.happened),))


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
