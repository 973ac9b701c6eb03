from __future__ import annotations

from typing import Any

from tests.cycle.line import LIMITS as LIMITS_FOLDER


def test_the_command_tells_yield_and_spread(station: Any) -> None:
    tarn = LIMITS_FOLDER / "tarn2.toml"
    shown = station("limits", "forecast", tarn, "--units", "400")
    assert shown.code == 0
    for word in ("Tarn 2", "400 units", "a yield of", "impedance in Ω", "Not forecast"):
        assert word in shown.out
    (found,) = station("limits", "forecast", tarn, "--units", "400", "--json").runs()
    assert found["pass"] + found["fail"] == found["units"] == 400
    curve = found["curves"]["impedance"]
    assert len(curve["hz"]) == len(curve["low"]) == len(curve["high"])
    refused = station("limits", "forecast", LIMITS_FOLDER / "scree12.toml")
    assert refused.code == 2
    assert "netlist" in refused.err
