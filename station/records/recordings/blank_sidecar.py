"""The facts of a recording still to be made, as a TOML file for a person to complete."""

from __future__ import annotations

from dataclasses import asdict

import tomlkit
from tomlkit.items import Table

from station.analysis.recording import UNIT_OF_ROLE, Role
from station.analysis.signals.sweep import Sweep
from station.records.recordings.sidecar import FORMAT

ROLES_TO_FILL_IN: tuple[Role, ...] = ("microphone", "voltage", "current")


def blank_sidecar(sweep: Sweep, steps: tuple[Sweep, ...] = ()) -> str:
    """Return a sidecar that knows the sweeps; serial, distance and scales are to be given."""
    document = tomlkit.document()
    document.add(tomlkit.comment("Put this beside the recording NAME.wav as NAME.toml, with the"))
    document.add(tomlkit.comment("values marked FILL IN; leave out channels you do not have."))
    document.add("format", tomlkit.item(FORMAT))
    document.add("serial", tomlkit.item("").comment("FILL IN, or delete the line"))
    document.add("distance_m", tomlkit.item(1.0).comment("FILL IN: unit's front to microphone"))
    document.add("sweep", sweep_table(sweep))
    if steps:
        followed = tomlkit.aot()
        for step in steps:
            followed.append(sweep_table(step))
        document.add("steps", followed)
    channels = tomlkit.aot()
    for number, role in enumerate(ROLES_TO_FILL_IN, start=1):
        channel = tomlkit.table()
        unit = UNIT_OF_ROLE[role]
        channel.add("channel", tomlkit.item(number).comment("FILL IN: its number in the file"))
        channel.add("role", role)
        channel.add("unit", unit)
        meaning = f"FILL IN: {unit} at sample value 1.0"
        channel.add("full_scale", tomlkit.item(1.0).comment(meaning))
        channels.append(channel)
    document.add("channels", channels)
    return tomlkit.dumps(document)


def sweep_table(sweep: Sweep) -> Table:
    """Return every parameter of a sweep as a table."""
    table = tomlkit.table()
    for name, value in asdict(sweep).items():
        table.add(name, value)
    return table
