"""The demo limit files are released as they stand, by the demonstration's key."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.judging.files.shelf import shelved
from station.judging.release.keys import public_key_of_pem
from station.judging.release.releasecheck import checked_release
from station.simulation.factory.demonstrationkey import demonstration_key_pem
from tests.demo_limits.release import demonstration_key

LIMITS = Path(__file__).parent.parent.parent / "limits"


@pytest.mark.parametrize("path", sorted(LIMITS.glob("*.toml")), ids=lambda path: path.stem)
def test_the_file_is_released(path: Path) -> None:
    """If it is not: ./.run python -m tests.demo_limits.release limits."""
    key = public_key_of_pem(demonstration_key_pem())
    assert checked_release(shelved(path), {key.hex}).public_key == key.hex


def test_its_private_half_is_the_one_beside_the_tests() -> None:
    assert demonstration_key().public == public_key_of_pem(demonstration_key_pem())
