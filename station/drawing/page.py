"""The skeleton of a page, its tables and cards: one file that asks nothing of the outside."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from station.drawing.pagestyle import STYLE


def page(title: str, parts: Iterable[str], *, language: str = "en", style: str = STYLE) -> str:
    """Return a whole page; the parts are HTML already."""
    return (
        f'<!doctype html><html lang="{escape(language)}"><head><meta charset="utf-8">'
        f"<title>{escape(title)}</title><style>{style}</style></head>"
        f"<body>{''.join(parts)}</body></html>"
    )


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table of words."""
    top = "".join(f"<th>{escape(cell)}</th>" for cell in head)
    body = "".join(
        "<tr>" + "".join(f"<td>{unbroken(cell)}</td>" for cell in row) + "</tr>" for row in rows
    )
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def cards(figures: Iterable[tuple[str, str, str]]) -> str:
    """Return figures to remember: each large, with its name and what stands behind it."""
    inner = "".join(
        f"<div><b>{escape(figure)}</b><span>{escape(name)}</span>"
        f"<small>{escape(behind)}</small></div>"
        for figure, name, behind in figures
    )
    return f'<div class="cards">{inner}</div>'


def unbroken(text: str) -> str:
    """Return words that no line parts from their unit."""
    return escape(text).replace(" %", "&nbsp;%").replace(" dB", "&nbsp;dB")
