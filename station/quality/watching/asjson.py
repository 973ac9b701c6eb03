"""What is watched, as the objects that `--json` prints; null stands for what is not finite."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from station.analysis.statistics.proportions import Proportion
from station.quality.statistics.capability import Capability, Index
from station.quality.watching.causes import CauseRow
from station.quality.watching.curvecapability import OctaveCapability, worst_of
from station.quality.watching.drift import Drift, Shift
from station.quality.watching.numbers import Series, capability_of
from station.quality.watching.productionrisk import ReadingRisk
from station.quality.watching.watched import ToldAlarm, Watched
from station.quality.watching.words import alarm_sentences
from station.quality.watching.yields import YieldRow

FORMAT = 1


def yields_as_object(rows: Sequence[YieldRow]) -> dict[str, Any]:
    """Return yields by period."""
    return {
        "format": FORMAT,
        "periods": [
            {
                "name": row.name,
                "units": row.units,
                "first_pass": share_as_object(row.first_pass),
                "in_the_end": share_as_object(row.in_the_end),
                "void": row.void,
                "undecided": row.undecided,
            }
            for row in rows
        ],
    }


def causes_as_object(rows: Sequence[CauseRow]) -> dict[str, Any]:
    """Return causes, the most frequent first."""
    return {
        "format": FORMAT,
        "causes": [
            {
                "reading": row.reading,
                "side": row.side,
                "units": row.units,
                "share": row.share,
                "so_far": row.so_far,
            }
            for row in rows
        ],
    }


def capability_as_object(
    series: Iterable[Series], size: int, octaves: Sequence[OctaveCapability] = ()
) -> dict[str, Any]:
    """Return the capability of every judged number, and of every octave of every curve."""
    worst = worst_of(octaves)
    found = ((one, capability_of(one, size)) for one in series)
    return {
        "format": FORMAT,
        "readings": [one_capability(one, result) for one, result in found if result is not None],
        "curves": [octave_as_object(one) for one in octaves],
        "worst": None if worst is None else octave_as_object(worst),
    }


def octave_as_object(one: OctaveCapability) -> dict[str, Any]:
    """Return the capability of an octave of a curve, at its least capable frequency."""
    found = one_capability(one.series, one.capability)
    return {**found, "reading": one.reading, "octave_hz": one.centre_hz, "at_hz": one.at_hz}


def one_capability(series: Series, found: Capability) -> dict[str, Any]:
    """Return the capability of one number."""
    return {
        "model": series.model,
        "reading": series.reading,
        "unit": series.unit,
        "limits": [finite(end) for end in series.limits],
        "n": found.n,
        "mean": found.mean,
        "within": found.within,
        "overall": found.overall,
        **{name: index_as_object(getattr(found, name)) for name in ("cp", "cpk", "pp", "ppk")},
        "normality": {"test": found.normality.test, "p": finite(found.normality.p_value)},
        "percentiles": None
        if found.spread is None
        else {
            "low": found.spread.low,
            "median": found.spread.median,
            "high": found.spread.high,
            "how": found.spread.how,
        },
    }


def risks_as_object(risks: Iterable[ReadingRisk]) -> dict[str, Any]:
    """Return the risk of every number that states an uncertainty."""
    return {
        "format": FORMAT,
        "readings": [
            {
                "model": one.model,
                "reading": one.reading,
                "unit": one.unit,
                "n": one.n,
                "production": one.production,
                "measurement": one.measurement,
                "tolerance": [finite(end) for end in one.tolerance],
                "acceptance": [finite(end) for end in one.acceptance],
                "consumer": one.risk.consumer,
                "producer": one.risk.producer,
                "conforming": one.risk.conforming,
            }
            for one in risks
        ],
    }


def alarms_as_object(watched: Watched) -> dict[str, Any]:
    """Return the alarms, the one that moved furthest first, and the sentences."""
    return {
        "format": FORMAT,
        "said": list(alarm_sentences(watched)),
        "charted": len(watched.charts),
        "references": list(watched.references),
        "alarms": [alarm_as_object(one) for one in watched.alarms],
    }


def alarm_as_object(told: ToldAlarm) -> dict[str, Any]:
    """Return one alarm."""
    alarm, drift = told.alarm, told.drift
    return {
        "model": alarm.model,
        "reading": alarm.reading,
        "unit": alarm.unit,
        "chart": alarm.chart,
        "since_utc": alarm.since_utc.isoformat(),
        "since_serial": alarm.since_serial,
        "above": alarm.above,
        "moved": alarm.moved,
        "sigmas": alarm.sigmas,
        "drift": None if drift is None else drift_as_object(drift),
    }


def drift_as_object(drift: Drift) -> dict[str, Any]:
    """Return what moved; half widths of 99 % intervals."""

    def part(shift: Shift | None) -> dict[str, float] | None:
        return None if shift is None else {"moved": shift.moved, "reach": shift.reach}

    return {
        "moved": drift.moved.value,
        "readings": part(drift.readings),
        "station": part(drift.station),
        "product": part(drift.product),
    }


def index_as_object(index: Index) -> dict[str, float | None]:
    """Return an index with its interval."""
    return {
        "value": finite(index.value),
        "lower": finite(index.lower),
        "upper": finite(index.upper),
    }


def share_as_object(share: Proportion) -> dict[str, Any]:
    """Return a share with its interval."""
    return {
        "hits": share.hits,
        "n": share.n,
        "ratio": finite(share.ratio),
        "lower": share.lower_ratio,
        "upper": share.upper_ratio,
    }


def finite(value: float) -> float | None:
    """Return a value JSON can hold."""
    return value if math.isfinite(value) else None
