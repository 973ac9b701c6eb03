"""Strokes, marks and words of a chart, as SVG that prints in black and white."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

INK, GREY, PALE = "#111", "#777", "#ddd"
MARK_RADIUS = 3.6


@dataclass(frozen=True, slots=True)
class Look:
    """How one of several curves is told from the others without colour."""

    mark: str
    filled: bool
    dash: str


LOOKS = (Look("circle", True, ""), Look("square", False, "6 3"))


def stroke(
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    colour: str = INK,
    width: float = 1.0,
    dash: str = "",
) -> str:
    """Return a straight line."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" '
        f'stroke="{colour}" stroke-width="{width:g}"{dashes}/>'
    )


def curve(points: Iterable[tuple[float, float]], dash: str = "", width: float = 1.6) -> str:
    """Return a line through points."""
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<polyline points="{path}" fill="none" stroke="{INK}" stroke-width="{width:g}"{dashes}/>'
    )


def surface(points: Iterable[tuple[float, float]], fill: str = "#e6e6e6") -> str:
    """Return a filled outline without a stroke."""
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polygon points="{corners}" fill="{fill}"/>'


def box(x: float, y: float, width: float, height: float, fill: str) -> str:
    """Return a filled rectangle."""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}"/>'
    )


def mark(x: float, y: float, shape: str, *, filled: bool, radius: float = MARK_RADIUS) -> str:
    """Return a circle, square, diamond or an arrow to either side."""
    paint = f'fill="{INK if filled else "#fff"}" stroke="{INK}" stroke-width="1.3"'
    if shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" {paint}/>'
    corners = " ".join(
        f"{x + radius * across:.1f},{y + radius * down:.1f}" for across, down in CORNERS[shape]
    )
    return f'<polygon points="{corners}" {paint}/>'


CORNERS = {
    "square": ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)),
    "diamond": ((0.0, -1.4), (1.4, 0.0), (0.0, 1.4), (-1.4, 0.0)),
    "right": ((-1.0, -1.2), (1.4, 0.0), (-1.0, 1.2)),
    "left": ((1.0, -1.2), (-1.4, 0.0), (1.0, 1.2)),
}


def words(
    x: float, y: float, text: str, anchor: str = "start", size: float = 11.0, colour: str = INK
) -> str:
    """Return words; `anchor` says which end of them lies at x."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size:g}" '
        f'fill="{colour}">{escape(text)}</text>'
    )


def picture(width: float, height: float, title: str, parts: Iterable[str]) -> str:
    """Return a whole picture, named for those who cannot see it."""
    return (
        f'<svg viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(title)}" '
        f'xmlns="http://www.w3.org/2000/svg">{"".join(parts)}</svg>'
    )
