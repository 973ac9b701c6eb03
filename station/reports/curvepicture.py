"""Curves over frequency as a picture: bands shaded, curves told apart by their dashes."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.readings import Curve
from station.drawing.plot import Plot, plot
from station.drawing.strokes import mark, picture
from station.judging.verdicts.verdict import AppliedBand
from station.reports.quantities import unit_on_paper
from station.reports.translations import Language

WIDTH, HEIGHT = 720.0, 232.0
DASHES = ("", "7 3", "2 3", "9 3 2 3", "5 2 1 2 1 2", "1 2")
WIDTHS = (1.8, 1.3, 1.5, 1.3, 1.3, 1.8)
ROOM_RATIO = 0.08
NEAREST_MARKS = 14.0
FIGURE = re.compile(r"(?<=>)-?\d+(?:\.\d+)?(?=</text>)")
GUARD_FILL, BAND_FILL = "#f0f0f0", "#dedede"


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """What is drawn: curves, the band of the first one, and the number of each curve's dashes."""

    title: str
    unit: str
    curves: Sequence[Curve]
    band: AppliedBand | None = None
    looks: tuple[int, ...] = (0, 1)


def curve_picture(language: Language, what: Picture, *, height: float = HEIGHT) -> str:
    """Return the picture as SVG."""
    low_hz = min(float(curve.frequency_hz[0]) for curve in what.curves)
    high_hz = max(float(curve.frequency_hz[-1]) for curve in what.curves)
    frame = plot(WIDTH, height, (low_hz, high_hz), span_of(what), logarithmic=True)
    parts = [*band_parts(frame, what.band)]
    parts.append(frame.frame(language.text("Frequency in Hz"), unit_on_paper(language, what.unit)))
    drawn_last_first = list(zip(what.curves, what.looks, strict=False))[::-1]
    for curve, look in drawn_last_first:  # the first one on top
        dash, width = DASHES[look % len(DASHES)], WIDTHS[look % len(WIDTHS)]
        parts += frame.line(held(curve.frequency_hz), held(curve.values), dash=dash, width=width)
    if what.band is not None:
        parts += outside_marks(frame, what.band)
    drawn = picture(WIDTH, height, what.title, parts)
    return FIGURE.sub(lambda found: signed_figure(language, found.group()), drawn)


def band_parts(frame: Plot, band: AppliedBand | None) -> Iterator[str]:
    """Yield the room between the limits; with a guard band, the tolerance around it too."""
    if band is None:
        return
    at = held(band.frequency_hz)
    if band.guard is not None and band.guard.any():
        lower, upper = band.lower - band.guard, band.upper + band.guard
        yield from filled(frame, at, lower, upper, GUARD_FILL)
    yield from filled(frame, at, band.lower, band.upper, BAND_FILL)
    for side in (band.lower, band.upper):
        if np.isfinite(side).all():
            yield from frame.line(at, held(side), width=0.7)


def filled(
    frame: Plot, at: list[float], lower: FloatArray, upper: FloatArray, fill: str
) -> Iterator[str]:
    """Yield a band in another grey than the plot's own."""
    for part in frame.band(at, held(lower), held(upper)):
        yield part.replace('fill="#e6e6e6"', f'fill="{fill}"')


def outside_marks(frame: Plot, band: AppliedBand) -> Iterator[str]:
    """Yield marks at the points that violate the limits, as many as can be told apart."""
    free_from = -math.inf
    for at, value, outside in zip(band.frequency_hz, band.values, band.outside, strict=True):
        across = frame.x(float(at))
        if outside and math.isfinite(value) and across >= free_from:
            free_from = across + NEAREST_MARKS
            yield mark(across, frame.y(float(value)), "diamond", filled=True)


def span_of(what: Picture) -> tuple[float, float]:
    """Return the span of values: limits whole, curves as far as the limits span once more."""
    values = finite(np.concatenate([curve.values for curve in what.curves]))
    limits = (
        np.array([])
        if what.band is None
        else finite(np.concatenate([what.band.lower, what.band.upper]))
    )
    if limits.size and values.size:
        low, high = float(limits.min()), float(limits.max())
        room = max(high - low, 0.05 * max(abs(low), abs(high)), 1e-9)
        low = min(low, max(float(values.min()), low - room))
        high = max(high, min(float(values.max()), high + room))
    elif limits.size or values.size:
        given = limits if limits.size else values
        low, high = float(given.min()), float(given.max())
    else:
        low, high = 0.0, 1.0
    edge = ROOM_RATIO * (high - low) or 0.5 * abs(high) or 0.5
    return low - edge, high + edge


def finite(values: FloatArray) -> FloatArray:
    """Return the finite ones."""
    return values[np.isfinite(values)]


def held(values: FloatArray) -> list[float]:
    """Return values as plain numbers."""
    return [float(value) for value in values]


def signed_figure(language: Language, words: str) -> str:
    """Return a number of an axis as the language writes it, with a true minus sign."""
    sign = "−" if words.startswith("-") else ""
    return f"{sign}{language.figures(words.removeprefix('-'))}"


def line_sample(number: int) -> str:
    """Return a short line as the curve of a number is drawn."""
    dash = DASHES[number % len(DASHES)]
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<svg viewBox="0 0 36 9" xmlns="http://www.w3.org/2000/svg"><line x1="0" y1="4.5" x2="36" '
        f'y2="4.5" stroke="#111" stroke-width="{WIDTHS[number % len(WIDTHS)]:g}"{dashed}/></svg>'
    )


def surface_sample(fill: str) -> str:
    """Return a small patch of a grey."""
    return (
        f'<svg viewBox="0 0 36 9" xmlns="http://www.w3.org/2000/svg"><rect width="36" height="9" '
        f'fill="{fill}" stroke="#111" stroke-width="0.7"/></svg>'
    )
