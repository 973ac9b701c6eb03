"""The station file of the simulated station, shipped with the package."""

from __future__ import annotations

from importlib import resources

from station.hardware.files.stationfile import StationFile
from station.tomlfiles.loading import model_from_toml

NAME = "station.toml"
CHECK_NAME = "check.toml"  # what the station file of a whole shift has besides


def simulated_station(*, checked: bool = False) -> tuple[StationFile, str]:
    """Return the simulated station's file and its text; `checked` asks for station checks."""
    names = (NAME, CHECK_NAME) if checked else (NAME,)
    folder = resources.files("station.simulation.bench")
    text = "".join(folder.joinpath(name).read_text(encoding="utf-8") for name in names)
    return model_from_toml(text, NAME, StationFile), text
