"""Which parts list a stored run is diagnosed by."""

from __future__ import annotations

import re
from dataclasses import replace

from station.cycle.stored.suspicion import Suspicion, parts_of, parts_of_run
from station.diagnosis.named.suspect import Finding
from station.judging.files.shelf import limit_shelf
from tests.cycle.line import LIMITS
from tests.records.example import example_run


def without_netlist(text: str) -> str:
    return re.sub(r"\n\[netlist\].*?# End of the netlist\.\n", "\n", text, flags=re.DOTALL)


def test_a_run_brings_the_netlist_it_was_judged_by() -> None:
    shelf = limit_shelf(LIMITS)
    text = (LIMITS / "tarn2.toml").read_text(encoding="utf-8")
    run = example_run()
    run = replace(run, setup=replace(run.setup, limit_text=text))
    assert parts_of_run(run, None) == parts_of(shelf.for_serial("T2A00001").limits)


def test_a_run_from_before_the_netlist_takes_that_of_the_same_revision() -> None:
    shelf = limit_shelf(LIMITS)
    text = without_netlist((LIMITS / "tarn2.toml").read_text(encoding="utf-8"))
    assert "netlist" not in text
    run = example_run()
    run = replace(
        run, serial="T2A00001", model="Tarn 2", revision="A",
        setup=replace(run.setup, limit_text=text),
    )  # fmt: skip
    today = parts_of(shelf.for_serial("T2A00001").limits)
    assert parts_of_run(run, shelf) == today
    assert parts_of_run(run, None) is None
    assert parts_of_run(replace(run, revision="B"), shelf) is None
    assert parts_of_run(replace(run, serial="unknown"), shelf) is None
    assert Suspicion().of_run(replace(run, revision="B"), shelf).finding is Finding.NOT_POSSIBLE
