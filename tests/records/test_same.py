"""The comparison the other tests lean on must tell things apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from station.analysis.readings import Curve, Number, Readings
from tests.records.example import example_run
from tests.records.same import same


def test_equal_runs_are_the_same() -> None:
    assert same(example_run(), example_run())


def test_every_small_difference_is_seen() -> None:
    run = example_run()
    response = run.readings.curves["response"]
    bent_db = response.values.copy()
    bent_db[40] = np.nextafter(np.float32(bent_db[40]), np.float32(100.0))
    bent = {**run.readings.curves, "response": Curve(response.frequency_hz, bent_db, "dB")}
    turned = dict(reversed(list(run.readings.curves.items())))
    zero = {**run.readings.numbers, "fs": Number(0.0, "Hz")}
    for other in (
        replace(run, serial="T2A00124"),
        replace(run, readings=replace(run.readings, curves=bent)),
        replace(run, readings=replace(run.readings, curves=turned)),
        replace(run, readings=replace(run.readings, numbers=zero)),
        replace(run, readings=Readings()),
        replace(run, judgement=replace(run.judgement, causes=run.judgement.causes[:1])),
    ):
        assert not same(run, other)
