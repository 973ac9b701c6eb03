"""How much room the disk of the log must have, from the station file."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from station.tomlfiles.loading import StrictModel

Gigabytes = Annotated[float, Field(gt=0.0)]


class DiskTable(StrictModel):
    """Below the first every test says so, below the second no unit is tested; 1 GB is 1e9 bytes."""

    warn_below_gb: Gigabytes
    stop_below_gb: Gigabytes

    @model_validator(mode="after")
    def check_order(self) -> DiskTable:
        """Refuse to stop before having warned."""
        if self.stop_below_gb >= self.warn_below_gb:
            raise ValueError("stop_below_gb must be below warn_below_gb")
        return self
