"""Whether limits that were chosen for a service are released, as those of production must be."""

from __future__ import annotations

from collections.abc import Iterable

from station.cycle.authority import Authority
from station.errors import UnreleasedError
from station.judging.releasecheck import checked_release
from station.records.kept.service import LimitsFrom
from station.service.builtlimits import BuiltLimits

# Limits stored with a run were released when it was made. Files of the archive may be older than
# releases are; the paper says that they come from there.
MUST_BE_RELEASED = (LimitsFrom.SERVICE, LimitsFrom.SHELF)


class ServiceReleases:
    """Lets released service revisions and today's released files judge, and no others.

    `demonstration_keys` are believed besides, on simulated hardware only.
    """

    def __init__(self, authority: Authority, *, demonstration_keys: Iterable[str] = ()) -> None:
        self._authority = authority
        self._demonstration_keys = frozenset(demonstration_keys)

    def check(self, serial: str, limits: BuiltLimits) -> None:
        """Refuse limits that must be released and are not.

        Raises
        ------
        UnreleasedError
            If they are not released, or were changed; it is logged.
        """
        if limits.found_in not in MUST_BE_RELEASED:
            return
        trusted = self._authority.roster().keys.keys() | self._demonstration_keys
        try:
            checked_release(limits.shelved, trusted)
        except UnreleasedError as error:
            raise self._authority.refused(error, serial) from None
