"""How many runs are left out of production: trials, gauge studies, services, station checks."""

from __future__ import annotations

from dataclasses import dataclass

from station.records.chains.setapart import OF_CHECKS, OF_GAUGES, OF_SERVICES
from station.records.log.log import RunLog
from station.records.summaries.runlist import Period, span_of

# Trials first: a run that is both a trial and in service is told once.
SPAN = "started_utc >= :since AND started_utc < :until AND (:model IS NULL OR model = :model)"
LEFT_OUT = f"""SELECT
    (SELECT count(*) FROM runs WHERE trial IS 1 AND {SPAN}),
    (SELECT count(*) FROM runs WHERE trial IS NOT 1 AND {OF_GAUGES} AND {SPAN}),
    (SELECT count(*) FROM runs WHERE trial IS NOT 1 AND {OF_SERVICES} AND {SPAN}),
    (SELECT count(*) FROM runs WHERE {OF_CHECKS} AND {SPAN})"""  # noqa: S608 - our own words


@dataclass(frozen=True, slots=True)
class LeftOut:
    """How many runs of a span are no production, each counted once."""

    trials: int = 0
    gauge: int = 0
    service: int = 0
    check: int = 0


def left_out(log: RunLog, model: str | None, period: Period) -> LeftOut:
    """Return how many runs of a model, or of all, are left out of production in a period."""
    with log.reading() as connection:
        found = connection.execute(LEFT_OUT, {**span_of(period), "model": model}).fetchone()
        return LeftOut(*found)
