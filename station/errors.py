"""The one exception tree: conditions of the world, each with what happened and the remedy.

StationError                    exit code of a command
├── RefusedInputError           2  the caller's file or argument cannot be used
│   ├── UnknownSerialError      2  no limit file claims the serial number
│   ├── UnreleasedError         2  the unit's limit file is not, or no longer, the released one
│   ├── NotAllowedError         2  who asks may not do this, or did not prove who he is
│   ├── TextFileError           2  limit, station or sidecar file with faults, each at file:line
│   └── RecordingFileError      2  recording missing, corrupt, or without its facts
├── NoSignalError               -  a reading cannot be computed; it becomes a void, never an exit
└── StationFaultError           4  the station, not the unit
    ├── AudioError              4  device missing, wrong, busy
    │   └── AudioLostError      -  device stopped delivering in mid-run; the run becomes a void
    ├── FixtureError            4  lid, clamp, relays
    ├── RecordsError            4  log or recordings cannot be written or read
    │   └── DamagedLogError     4  the log's database is not what was written
    ├── UnsafeError             -  the output was silenced in mid-run; the run becomes a void
    ├── UnsettledError          -  what is measured does not come to rest; the run becomes a void
    ├── BusyError               4  a second run or a second station wants the same device
    └── StoppedError            4  somebody stopped the run
"""

from __future__ import annotations


class StationError(Exception):
    """A condition an operator can act on: two sentences without jargon."""

    def __init__(self, happened: str, remedy: str) -> None:
        super().__init__(f"{happened} {remedy}")
        self.happened = happened
        self.remedy = remedy


class RefusedInputError(StationError):
    """What the caller gave cannot be used."""


class UnknownSerialError(RefusedInputError):
    """No limit file claims this serial number."""


class UnreleasedError(RefusedInputError):
    """The limit file is not the one that was released for the unit."""


class NotAllowedError(RefusedInputError):
    """The person's role does not allow this, or it is not proved who the person is."""


class TextFileError(RefusedInputError):
    """A TOML file has faults; `faults` holds each as "file:line: what is wrong"."""

    def __init__(self, happened: str, remedy: str, faults: tuple[str, ...] = ()) -> None:
        super().__init__(happened, remedy)
        self.faults = faults


class RecordingFileError(RefusedInputError):
    """A recording is missing, corrupt, or lacks the facts needed to judge it."""


class NoSignalError(StationError):
    """There is nothing to measure where a reading needs something."""


class StationFaultError(StationError):
    """The station cannot do its work; this says nothing about the unit."""


class AudioError(StationFaultError):
    """The audio device is missing, wrong or busy."""


class AudioLostError(AudioError):
    """The audio device stopped delivering while a run was under way."""


class FixtureError(StationFaultError):
    """The fixture is not in the state the step needs."""


class UnsafeError(StationFaultError):
    """The output was silenced because it was no longer safe to play."""


class UnsettledError(StationFaultError):
    """What is to be measured does not come to rest in time."""


class RecordsError(StationFaultError):
    """The log or a recording cannot be written or read."""


class DamagedLogError(RecordsError):
    """The log's database is not what was written; the next to use it alone sets it aside."""


class BusyError(StationFaultError):
    """Another run or another station holds what this one needs."""


class StoppedError(StationFaultError):
    """The run was stopped by a person or a signal."""


STOPPED = "The run was stopped."


def stopped() -> StoppedError:
    """Return what a stopped run raises."""
    return StoppedError(STOPPED, "Scan the unit again to test it.")
