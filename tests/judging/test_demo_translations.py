"""The demo limit files say in German what they advise, so that German paper is German."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.judging.files.limit_file import limit_file

FILES = sorted((Path(__file__).parents[2] / "limits").glob("*.toml"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_advice_has_its_german(path: Path) -> None:
    limits, _ = limit_file(path)
    assert set(limits.translations["de"]) == {rule.say for rule in limits.advice}
