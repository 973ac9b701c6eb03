"""What a limit file says for service: how alike curves must be, which revision it serves."""

from __future__ import annotations

from station.judging.tables.fieldtypes import Positive, Words
from station.tomlfiles.loading import StrictModel


class ServiceTable(StrictModel):
    """Makes the file a service revision: for units of an older one with a part made otherwise.

    It never judges production. `part` is what was rebuilt, `made_to` what it is made of now.
    """

    for_revision: Words
    part: Words
    made_to: Words


class MatchTable(StrictModel):
    """How far two responses may lie apart: a unit as built and now, or the two of a pair."""

    level_db: Positive
    shape_db: Positive  # of the largest difference without the level
