"""Every text the operator reads, in one place, as pure functions of what is to be said.

kHz, percent and the like exist only here; everything below counts in SI units.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from station.cycle.unit.report import Progress, Stage
from station.diagnosis.named import words
from station.diagnosis.named.suspect import Diagnosis
from station.judging.verdicts.verdict import Cause, Margin, Verdict
from station.judging.words.readingwords import reading_words
from station.judging.words.words import PREFIXED_UNITS, prefix_of
from station.records.summaries.shift import LastUnit, ShiftCount

MINUS = "−"
NO_VALUE = "no value"

BIG_WORDS = {
    "scan": "SCAN",
    "wait": "WAIT",
    "pass": "PASS",
    "fail": "FAIL",
    "void": "VOID",
    "station": "STATION",
    "serial": "SERIAL",
    "stop": "STOP",
    "start": "START",
    "badge": "BADGE",
    "trial": "TRIAL",
}

SCAN_NEXT = "Scan the serial number of the next unit."
TEST_STARTS = "The test starts."
PRESS_START = "Close the lid, then press the start button."
STOPPING = "Stopping: wait until the fixture is free."
QUITTING = "Stopping, then leaving: wait until the run is stored."
ENTRY_LABEL = "Serial"
ENTRY_PROMPT = "scan the next unit"
ENTRY_CLOSED = "testing: do not scan"
SIMULATED = "SIMULATED"
ENTRY_OFF = "all off: do not scan"
SWITCHING_OFF = "Switching everything off. Touch nothing inside."
ALL_OFF = "The output is silent, and the fixture has cut the unit off."
ALL_OFF_GO_ON = "Everything is off. Find out why, then press F8 to go on."
NOT_ALL_OFF = "The output is silent, but nobody knows whether the unit is cut off."
USE_THE_SWITCH = "Use the fixture's own emergency switch. Touch nothing inside. F8 goes on."
KEYS = "F1 help  Esc stop  F8 all off"
KEYS_WITH_SIGN_OUT = "F8 all off  F1 help  Esc stop  F4 sign out"  # cut where room is short
SCAN_BADGE = "Scan your badge."
BADGE_LOOKED_UP = "The badge is looked up."
ENTRY_BADGE = "scan your badge"
ENTRY_SIGNING = "wait"
NOBODY = "nobody signed in"
TRIAL_TAG = "TRIAL"
TRIAL_NEXT = "This was a trial: it is no result of the unit. Do not pack it for this."
NO_CURVE = "No curve to show."
PLOT_LEGEND = "▀ measured  ─ limit  ▲▼ outside"
PLOT_TOLERANCE = "  ┄ tolerance"
SHIFT_TITLE = "This shift"
LAST_UNITS_TITLE = "Last units"
SHIFT_UNKNOWN = "Counters: the log cannot be read."

NEXT_WITHOUT_ADVICE = {
    Verdict.PASS: "Take the unit out and scan the next one.",
    Verdict.FAIL: "Take the unit out and put it with the failed ones.",
    Verdict.VOID: "The measurement cannot be trusted: scan the same unit again.",
}

BUG_HAPPENED = "The station's program has a fault; this says nothing about the unit."
BUG_REMEDY = "Scan the unit again; if this comes back, call the quality engineer."

NO_SERIAL_HAPPENED = "The scanner sent characters that no serial number has."
LONG_SERIAL_HAPPENED = "The scanner sent far more than one serial number."
SERIAL_REMEDY = "Clean the label and scan it again."

HELP_TITLE = "Help"
HELP_CLOSE = "F1 or Esc closes this."
HELP_TEXT = """\
1  Put the unit into the fixture, close it, scan the serial number.
2  Wait for the big word. Do what the sentence under it says.

PASS     inside every limit
FAIL     the unit is outside a limit
VOID     the measurement cannot be trusted; it says nothing about the unit
STATION  the station has a fault; it says nothing about the unit
SERIAL   the serial number was not understood; nothing was tested
STOP     the test was stopped; it says nothing about the unit
BADGE    nobody signed in, or the badge is not known; nothing was tested
TRIAL    limits were tried out; it is no result of the unit

Esc stops a test. F8 silences the output and cuts the unit off, at any time.
F2 draws the curve in other characters, F4 signs out, Ctrl+Q leaves.

CAUTION
High voltage: the panels of some models carry thousands of volts, also for a
while after power is off. Do not touch a panel, its leads or its supply.
Loud sound: a sweep can harm hearing. Keep the fixture closed; where PROTECT
EARS stands above, wear hearing protection before you scan.
Moving parts: the fixture clamps by itself. Keep hands out while it moves.
Local codes hold. Work on mains or high voltage only with a licence."""

QUIT_TITLE = "A test is running."
QUIT_QUESTION = "Stop it and quit?   Y yes   N no"


def significant(value: float, digits: int = 3) -> str:
    """Return a number with so many significant digits and without an exponent."""
    rounded = float(f"{value:.{digits - 1}e}")
    if rounded == 0.0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
    text = f"{abs(rounded):.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{MINUS}{text}" if rounded < 0.0 else text


def frequency_text(frequency_hz: float) -> str:
    """Return a frequency as people say it: 63 Hz, 2.4 kHz."""
    if not math.isfinite(frequency_hz):
        return NO_VALUE
    if float(f"{frequency_hz:.2e}") < 1000.0:
        return f"{significant(frequency_hz)} Hz"
    return f"{significant(frequency_hz / 1000.0)} kHz"


def percent_text(ratio: float) -> str:
    """Return a share as whole percent."""
    return f"{100.0 * ratio:.0f} %" if math.isfinite(ratio) else NO_VALUE


def decibel_text(level_db: float, *, signed: bool = False) -> str:
    """Return decibels to a tenth, or finer below a tenth; with + or − if signed."""
    if not math.isfinite(level_db):
        return NO_VALUE
    size = abs(level_db)
    text = f"{size:.1f}" if size >= 0.1 or size == 0.0 else significant(size, 1)
    sign = MINUS if level_db < 0.0 else "+" if signed else ""
    return f"{sign}{text} dB"


def degree_text(angle_deg: float) -> str:
    """Return an angle."""
    return f"{significant(angle_deg)}°"


UNIT_TEXTS: Mapping[str, Callable[[float], str]] = {
    "dB": decibel_text,
    "Hz": frequency_text,
    "deg": degree_text,
    "ratio": significant,
}


def quantity_text(value: float, unit: str) -> str:
    """Return a value with its unit for people: kHz, ms, mV and so on where they fit."""
    if not math.isfinite(value):
        return NO_VALUE
    if unit in UNIT_TEXTS:
        return UNIT_TEXTS[unit](value)
    if unit in PREFIXED_UNITS:
        factor, prefix = prefix_of(value)
        return f"{significant(value / factor)} {prefix}{unit}"
    if unit in ("V", "A", "Pa") and 0.0 < abs(value) < 1.0:
        return f"{significant(value * 1000.0)} m{unit}"
    return f"{significant(value)} {unit}"


SAID_IN_FULL = ("rub", "rub_crest")  # their sentence names the likely cause


def capitalised(text: str) -> str:
    """Return a text with its first letter large."""
    return text[:1].upper() + text[1:]


def at_text(at_hz: float | None) -> str:
    """Return where on a curve, or nothing for a number."""
    return "" if at_hz is None else f" at {frequency_text(at_hz)}"


def cause_line(cause: Cause) -> str:
    """Return a cause in one line: "Response 2.3 dB below the band at 2.4 kHz"."""
    if cause.side not in ("below", "above") or cause.reading in SAID_IN_FULL:
        return one_line(cause.happened)
    edge = "limit" if cause.at_hz is None else "band"
    away = quantity_text(abs(cause.margin), cause.unit)
    name = capitalised(reading_words(cause.reading))
    return f"{name} {away} {cause.side} the {edge}{at_text(cause.at_hz)}"


def margin_line(reading: str, margin: Margin) -> str:
    """Return how far inside or outside its limits a reading is at its worst point."""
    name = capitalised(reading_words(reading))
    side = "outside" if margin.value < 0.0 else "inside"
    away = quantity_text(abs(margin.value), margin.unit)
    edge = "limit" if margin.at_hz is None else "band"
    return f"{name} {away} {side} its {edge}{at_text(margin.at_hz)}"


def suspect_line(diagnosis: Diagnosis | None) -> str:
    """Return who is suspected of a fail, in one line; empty where nobody is."""
    line = "" if diagnosis is None else words.suspect_line(diagnosis)
    return f"Suspect: {line}" if line else ""


def attempts_line(attempts: int) -> str:
    """Return how often the unit was measured."""
    return f"Measured {attempts} times; the last one counts."


def one_line(text: str) -> str:
    """Return a text on one line, whatever line breaks it had."""
    return " ".join(text.split())


def plot_title(reading: str, unit: str) -> str:
    """Return the heading of a curve."""
    return f"{capitalised(reading_words(reading))} in {unit}"


def unit_line(serial: str, model: str, revision: str) -> str:
    """Return what is under test."""
    return f"{serial}   {model}, revision {revision}"


def operator_tag(name: str | None) -> str:
    """Return who is at work."""
    return NOBODY if name is None else name


def signed_in_line(name: str) -> str:
    """Return that somebody has signed in."""
    return f"{name} has signed in."


def trial_line(verdict: Verdict, next_step: str) -> str:
    """Return what the limits on trial would have said."""
    return f"The limits on trial say {BIG_WORDS[verdict]}: {next_step}"


def next_unit_prompt(serial: str) -> str:
    """Return which unit waits on a simulated line, and the key that types its label."""
    return f"next: {serial}   F5 types it"


def ignored_line(serial: str) -> str:
    """Return that a second scan was not taken."""
    return f"not tested: {serial}"


def ears_tag(level_db_spl: float | None) -> str:
    """Return the lasting reminder of a station that is loud, nothing for one that is not."""
    return "" if level_db_spl is None else f"PROTECT EARS {level_db_spl:.0f} dB"


def stage_line(progress: Progress) -> str:
    """Return what the station does now, and what the operator minds meanwhile."""
    lines = {
        Stage.WAITING: PRESS_START,
        Stage.SECURING: "The fixture moves: keep your hands out.",
        Stage.CHARGING: "The bias builds up: short sweeps play until the panel has settled.",
        Stage.SWEEPING: "The sweep is playing, and it is loud: keep the fixture closed.",
        Stage.COMPUTING: "The sweep is over. Computing the readings.",
        Stage.STORING: "Storing the run.",
        Stage.REPEATING: "Measuring once more.",
    }
    if progress.stage is Stage.REPEATING and progress.reason:
        return f"Measuring once more: {one_line(progress.reason)}"
    line = lines[progress.stage]
    if progress.ears_db_spl is not None:
        line = f"{line} Protect ears: {progress.ears_db_spl:.0f} dB SPL."
    return line


METER_FLOOR_DB = -60.0
BAR_CELLS = 28
METER_CELLS = 14


def bar_text(ratio: float, cells: int) -> str:
    """Return a bar of so many cells, filled to a ratio; out of range is clipped, NaN is empty."""
    filled = round(cells * min(1.0, max(0.0, ratio))) if math.isfinite(ratio) else 0
    return "█" * filled + "░" * (cells - filled)


def progress_line(progress: Progress) -> str:
    """Return the bar of the sweep and the live level, which is no measurement."""
    level_db = progress.level_dbfs
    played = min(1.0, max(0.0, progress.played_ratio))
    level = f"{decibel_text(level_db)} of full scale" if math.isfinite(level_db) else "silent"
    meter = bar_text(1.0 - level_db / METER_FLOOR_DB, METER_CELLS)
    bar = bar_text(played, BAR_CELLS)
    return f"{bar} {percent_text(played):>5}  {meter} {level}"


def shift_column(shift: ShiftCount | None) -> str:
    """Return counters and last units, one to a line; None if the log could not be read."""
    if shift is None:
        return SHIFT_UNKNOWN
    counts = (("Passed", shift.passed), ("Failed", shift.failed), ("Void", shift.void))
    lines = [SHIFT_TITLE, *(f"{name:<7}{count:>6}" for name, count in counts)]
    if shift.last:
        lines += ["", LAST_UNITS_TITLE, *map(last_unit_line, shift.last)]
    return "\n".join(lines)


def shift_line(shift: ShiftCount | None) -> str:
    """Return the counters in one line, with the newest unit; None if the log was unreadable."""
    if shift is None:
        return SHIFT_UNKNOWN
    text = f"{SHIFT_TITLE}: {shift.passed} passed  {shift.failed} failed  {shift.void} void"
    if shift.last:
        text += f"   Last: {last_unit_line(shift.last[0])}"
    return text


def last_unit_line(unit: LastUnit) -> str:
    """Return one of the last units: verdict, serial, and why."""
    text = f"{BIG_WORDS[unit.verdict]} {unit.serial}"
    return f"{text}  {one_line(unit.cause)}" if unit.cause else text
