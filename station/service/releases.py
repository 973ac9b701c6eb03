"""Whether limits that judge a unit in service are released, as those of production must be."""

from __future__ import annotations

from collections.abc import Iterable

from station.cycle.allowed.admission import Admission
from station.cycle.allowed.authority import Authority
from station.records.kept.service import LimitsFrom
from station.records.log.log import RunLog
from station.service.builtlimits import BuiltLimits


class ServiceReleases:
    """Lets released limit files judge, and those that are stored with a run of production.

    Such a run was judged by them when they were released, and the log keeps their text.
    `demonstration_keys` are believed besides, on simulated hardware only.
    """

    def __init__(
        self, authority: Authority, log: RunLog, *, demonstration_keys: Iterable[str] = ()
    ) -> None:
        self._admission = Admission(authority, log, demonstration_keys=demonstration_keys)

    def check(self, serial: str, limits: BuiltLimits) -> None:
        """Refuse limits that are not released.

        Raises
        ------
        UnreleasedError
            If they are not, were changed, or are older than the unit asks for; it is logged.
        RecordsError
            If the log that says what is trusted was tampered with.
        """
        match limits.found_in:
            case LimitsFrom.RUN:
                return
            case LimitsFrom.SERVICE:
                self._admission.check_chosen(serial, limits.shelved)
            case LimitsFrom.ARCHIVE | LimitsFrom.SHELF:
                self._admission.check_in_service(serial, limits.shelved)
