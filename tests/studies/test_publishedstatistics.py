from __future__ import annotations

import pytest

from tests.studies.publishedstatistics import main


def test_every_statistic_stands_beside_its_source(capsys: pytest.CaptureFixture[str]) -> None:
    main()
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) > 20
    assert any(
        "0.511111 (0.368158 to 0.757543)  0.511111 (0.368158 to 0.757543)" in x for x in lines
    )
