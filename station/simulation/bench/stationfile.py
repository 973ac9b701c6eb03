"""The station file of the simulated station, shipped with the package."""

from __future__ import annotations

from importlib import resources

from station.hardware.stationfile import StationFile
from station.tomlfiles.loading import model_from_toml

NAME = "station.toml"


def simulated_station() -> tuple[StationFile, str]:
    """Return the simulated station's file, checked, and its text."""
    text = resources.files("station.simulation.bench").joinpath(NAME).read_text(encoding="utf-8")
    return model_from_toml(text, NAME, StationFile), text
