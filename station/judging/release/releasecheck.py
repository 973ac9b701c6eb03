"""Why a limit file is not, or no longer, the one that was released: one sentence for each way."""

from __future__ import annotations

from collections.abc import Container
from pathlib import PurePath

from station.errors import UnreleasedError
from station.judging.files.shelf import RELEASE_ENDING, ShelvedLimits
from station.judging.release.releasefile import ReleaseFile, release_of_text, sha256_of

CALL = "Stop testing this model and call the quality engineer."
RELEASE_IT = "Ask the quality engineer to release it; on the line, --trial tries it out unreleased."


def checked_release(shelved: ShelvedLimits, trusted_keys: Container[str]) -> ReleaseFile:
    """Return the release of a limit file that holds.

    Parameters
    ----------
    shelved : ShelvedLimits
        The limit file as it was read.
    trusted_keys : container of str
        Public keys whose releases are believed.

    Raises
    ------
    UnreleasedError
        If there is none, it is another file's, the file or the release was changed, or the key
        is not trusted.
    """
    beside = PurePath(shelved.name).with_suffix(RELEASE_ENDING).name
    if shelved.release_text is None:
        raise UnreleasedError(
            f"{shelved.name} is not released: there is no {beside} beside it.", RELEASE_IT
        )
    try:
        release = release_of_text(shelved.release_text)
    except ValueError as error:
        raise UnreleasedError(
            f"{beside} was changed after it was signed: it is no release file ({error}).", CALL
        ) from error
    happened = fault_of(shelved, release, beside, trusted_keys)
    if happened is not None:
        raise UnreleasedError(happened, CALL)
    return release


def fault_of(
    shelved: ShelvedLimits, release: ReleaseFile, beside: str, trusted_keys: Container[str]
) -> str | None:
    """Return what is wrong with a release, as one sentence; the signature is looked at first."""
    model = shelved.limits.model
    if not release.intact():
        return f"{beside} was changed after it was signed: its signature does not fit."
    if (release.model, release.revision) != (model.name, model.revision):
        return (
            f"{beside} is the release of {release.model} revision {release.revision}, "
            f"not of {model.name} revision {model.revision}."
        )
    if release.limit_sha256 != sha256_of(shelved.text):
        return (
            f"{shelved.name} was changed after {release.released_by} released it "
            f"on {release.released:%Y-%m-%d}."
        )
    if release.public_key not in trusted_keys:
        return (
            f"{beside} was signed by the key {release.key.fingerprint}, "
            "which this station does not trust."
        )
    return None
