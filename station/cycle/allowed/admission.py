"""Whether a unit may be tested by its limit file: released, unchanged, of the right revision.

A station believes the releases of the keys that its log trusts. Each it sees is taken into the
log, so that it knows from then on where in the production each revision begins: who puts an
older file back into the limits folder, or one of the archive, is found out, although its signature
holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from station.cycle.allowed.authority import Authority
from station.errors import UnreleasedError
from station.judging.files.shelf import LimitShelf, ShelvedLimits
from station.judging.release.releasecheck import CALL, checked_release
from station.judging.release.releasefile import ReleaseFile, sha256_of
from station.judging.tables.revisions import holds_for, start_of
from station.records.kept.release import Release
from station.records.kept.roleact import Act
from station.records.log.log import RunLog

LOSS_SEPARATOR = "; "


class Admission:
    """Lets released limit files judge, and in a trial any.

    Parameters
    ----------
    authority : Authority
        Knows which keys are trusted, and logs every refusal.
    log : RunLog
        Keeps the releases.
    demonstration_keys : iterable of str
        Public keys that are believed besides, on simulated hardware only: their private halves
        are public. Their releases are not taken into the log, because they prove nothing.
    trial : bool
        Whether runs are trials: any limit file judges, and no run is a result of production.
    """

    def __init__(
        self,
        authority: Authority,
        log: RunLog,
        *,
        demonstration_keys: Iterable[str] = (),
        trial: bool = False,
    ) -> None:
        self._authority = authority
        self._log = log
        self._demonstration_keys = frozenset(demonstration_keys)
        self.trial = trial

    def take_in(self, shelf: LimitShelf) -> None:
        """Take every release of a shelf that holds into the log, if it is new there."""
        if self.trial:
            return
        trusted = self._authority.roster().keys
        for shelved in shelf.files:
            try:
                release = checked_release(shelved, trusted)
            except UnreleasedError:
                continue  # told when a unit of this model is scanned
            self._taken_in(shelved, release)

    def check(self, serial: str, shelved: ShelvedLimits) -> None:
        """Refuse a limit file that may not judge this unit of the production.

        Raises
        ------
        UnreleasedError
            If it is not released, was changed, is another revision than the unit was built to, or
            judges units in service only.
        RecordsError
            If the log that says what is trusted was tampered with.
        """
        if self.trial:
            return
        try:
            release = self._holding(shelved)
            if release is not None:
                refuse_unasked(serial, shelved, self._taken_in(shelved, release))
        except UnreleasedError as error:
            raise self._authority.refused(error, serial) from None

    def check_in_service(self, serial: str, shelved: ShelvedLimits) -> None:
        """Refuse a limit file that may not judge this unit in service.

        Raises
        ------
        UnreleasedError
            If it is not released, was changed, or is older than the unit asks for.
        RecordsError
            If the log that says what is trusted was tampered with.
        """
        try:
            if self._holding(shelved) is not None:
                refuse_older(serial, shelved, self._log.releases())
        except UnreleasedError as error:
            raise self._authority.refused(error, serial) from None

    def check_chosen(self, serial: str, shelved: ShelvedLimits) -> None:
        """Refuse a limit file that somebody chose for a unit, whatever its serial number asks for.

        Raises
        ------
        UnreleasedError
            If it is not released, or was changed.
        RecordsError
            If the log that says what is trusted was tampered with.
        """
        try:
            if self._holding(shelved) is not None:
                refuse_other_contents(shelved, self._log.releases())
        except UnreleasedError as error:
            raise self._authority.refused(error, serial) from None

    def _taken_in(self, shelved: ShelvedLimits, release: ReleaseFile) -> Sequence[Release]:
        """Return what the log knows of releases, this one among them from now on."""
        known = self._log.releases()
        if any(one.release_text == release.text() for one in known):
            return known
        self._log.store_release(entry_of(shelved, release, self._authority))
        return self._log.releases()

    def _holding(self, shelved: ShelvedLimits) -> ReleaseFile | None:
        """Refuse what is not released; return its release if the log knows of such ones."""
        trusted = self._authority.roster().keys.keys() | self._demonstration_keys
        release = checked_release(shelved, trusted)
        if release.public_key in self._demonstration_keys:
            return None
        refuse_unconfirmed(unconfirmed_losses(self._log))
        return release


def unconfirmed_losses(log: RunLog) -> tuple[str, ...]:
    """Return which role acts and releases are lost and no engineer has looked at it, in order."""
    acts = (act for act in log.role_acts() if act.act is Act.LOSSES_CONFIRMED)
    confirmed = {loss for act in acts for loss in act.details["losses"].split(LOSS_SEPARATOR)}
    return tuple(sorted(log.authority_losses() - confirmed))


def refuse_unconfirmed(losses: tuple[str, ...]) -> None:
    """Refuse to test while a lost entry may have distrusted a key or released a revision."""
    if losses:
        raise UnreleasedError(
            f"The log was damaged and lost {', '.join(losses)}: what is released and trusted is "
            "not certain.",
            "An engineer looks at the trusted keys and the releases, and confirms them with "
            "'station keys confirm'.",
        )


def refuse_other_contents(shelved: ShelvedLimits, releases: Iterable[Release]) -> None:
    """Refuse a revision that the log knows with other contents; raise UnreleasedError."""
    model = shelved.limits.model
    for release in of_model(model.name, releases):
        same_revision = release.revision == model.revision
        if same_revision and sha256_of(release.limit_text) != sha256_of(shelved.text):
            raise UnreleasedError(
                f"{shelved.name} is not the revision {model.revision} of the {model.name} that "
                f"{release.released_by} released on {release.released_utc:%Y-%m-%d}: a revision "
                "never changes.",
                CALL,
            )


def of_model(name: str, releases: Iterable[Release]) -> list[Release]:
    """Return the releases of one model."""
    return [release for release in releases if release.model == name]


def asked_for(serial: str, model: str, releases: Iterable[Release]) -> Release | None:
    """Return the revision that a unit was built to as far as the log knows; None if it knows none.

    No two revisions of the production are released from the same unit on, so that of two this log
    knows, the one it learnt of later was never meant for the line.
    """
    begun = [
        release
        for release in of_model(model, releases)
        if holds_for(release.serial_pattern, release.holds_from, serial)
    ]
    return max(begun, key=lambda release: start_of(release.holds_from), default=None)


def refuse_unasked(serial: str, shelved: ShelvedLimits, releases: Sequence[Release]) -> None:
    """Refuse whatever is not the revision of the production that the unit was built to.

    Raises
    ------
    UnreleasedError
        If it is not, or if this revision was released with other contents.
    """
    refuse_other_contents(shelved, releases)
    model = shelved.limits.model
    asked = asked_for(serial, model.name, releases)
    if asked is None:
        raise UnreleasedError(
            f"{shelved.name} is released for units in service, not for the line.",
            "Put the line's limit file back into the limits folder, or ask the quality engineer to "
            f"release {shelved.name} there.",
        )
    if asked.revision != model.revision:
        raise built_to_another(serial, shelved, asked)


def refuse_older(serial: str, shelved: ShelvedLimits, releases: Sequence[Release]) -> None:
    """Refuse a revision that had been followed by another when the unit was built.

    Raises
    ------
    UnreleasedError
        If it had, or if this revision was released with other contents.
    """
    refuse_other_contents(shelved, releases)
    model = shelved.limits.model
    asked = asked_for(serial, model.name, releases)
    if asked is not None and start_of(asked.holds_from) > start_of(model.holds_from):
        raise built_to_another(serial, shelved, asked)


def built_to_another(serial: str, shelved: ShelvedLimits, asked: Release) -> UnreleasedError:
    """Return that a unit was built to another revision than that of a limit file."""
    model = shelved.limits.model
    return UnreleasedError(
        f"{serial} was built to revision {asked.revision} of the {model.name}, which holds from "
        f"{asked.holds_from or 'the first unit'}; {shelved.name} is revision {model.revision}.",
        f"Put the released limit file of revision {asked.revision} back into the limits folder.",
    )


def for_the_line(shelved: ShelvedLimits, *, archived: bool) -> bool:
    """Return whether a limit file is released for production, not for units in service."""
    return not archived and shelved.limits.service is None


def entry_of(
    shelved: ShelvedLimits, release: ReleaseFile, authority: Authority, *, archived: bool = False
) -> Release:
    """Return a release as the log keeps it.

    That of a service revision, or of a file of the archive, claims no serial number: production
    never asks for it.
    """
    model = shelved.limits.model
    return Release(
        release_id=authority.new_id(),
        taken_in_utc=authority.now_utc(),
        model=model.name,
        revision=model.revision,
        serial_pattern=model.serial if for_the_line(shelved, archived=archived) else "",
        holds_from=model.holds_from,
        released_utc=release.released,
        released_by=release.released_by,
        public_key=release.public_key,
        limit_name=shelved.name,
        limit_text=shelved.text,
        release_text=release.text(),
    )
