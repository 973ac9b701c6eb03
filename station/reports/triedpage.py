"""A draft tried on stored units as one page: who flips, why, and the curves over each band."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

import numpy as np

from station.drawing.page import cards, page, table
from station.drawing.plot import plot, roomy
from station.drawing.strokes import picture
from station.quality.whatif.pictures import BandPicture
from station.quality.whatif.report import Flip, Tally, WhatIf

WIDTH, HEIGHT = 640.0, 300.0
SPREAD_DASH, WORST_DASH = "2 3", "7 3"
LISTED = 20
LEGEND = (
    "Grey: the band. Line: median of all units. Dotted: 98 % of them at each frequency. Dashed: "
    "the units furthest outside."
)


def tried_page(
    heading: str, notes: Sequence[str], changes: WhatIf, pictures: Sequence[BandPicture]
) -> str:
    """Return the page; `notes` are what stored readings cannot tell."""
    parts = [
        f'<h1>A draft tried</h1><p class="facts">{escape(heading)}</p>',
        cards(headline(changes)),
        "".join(f"<p><b>{escape(note)}</b></p>" for note in notes),
        "<h2>First causes of a fail</h2>",
        table(("cause", "before", "under the draft"), cause_rows(changes)),
        *flips_part("Would fail and did not, the furthest outside first", changes.newly_failing),
        *flips_part("Would pass and did not", changes.newly_passing),
        *flips_part("Would still fail", changes.still_failing),
        f"<h2>Curves</h2><p>{escape(LEGEND)}</p>",
        *(band_part(each) for each in pictures),
    ]
    return page("A draft tried", parts)


def headline(changes: WhatIf) -> Iterator[tuple[str, str, str]]:
    """Yield the yields before and after, and the flips."""
    for name, tally in (("before", changes.before), ("under the draft", changes.after)):
        yield percent(tally), f"yield {name}", f"{tally.passed} pass, {tally.failed} fail"
    yield str(len(changes.newly_failing)), "would fail", "and did not"
    yield str(len(changes.newly_passing)), "would pass", "and did not"


def percent(tally: Tally) -> str:
    """Return a yield in percent."""
    ratio = tally.yield_ratio
    return "none" if ratio is None else f"{100.0 * ratio:.2f} %"


def cause_rows(changes: WhatIf) -> list[tuple[str, str, str]]:
    """Return the fails by first cause, the most frequent first."""
    then, now = changes.before.causes, changes.after.causes
    names = sorted({*then, *now}, key=lambda name: -(then.get(name, 0) + now.get(name, 0)))
    return [(name, str(then.get(name, 0)), str(now.get(name, 0))) for name in names]


def flips_part(title: str, flips: Sequence[Flip]) -> Iterator[str]:
    """Yield a table of units, if there are any."""
    if not flips:
        return
    rows = [
        (
            flip.run.serial,
            flip.run.started_utc[:16].replace("T", " "),
            flip.before.cause or flip.before.verdict.value,
            flip.after.cause or flip.after.verdict.value,
            "" if flip.after.severity is None else f"{flip.after.severity:.2f}",
        )
        for flip in flips[:LISTED]
    ]
    shown = f" ({LISTED} of {len(flips)})" if len(flips) > LISTED else ""
    yield f"<h2>{escape(title)}{shown}</h2>"
    yield table(("serial", "UTC", "before", "under the draft", "steps outside"), rows)


def band_part(shown: BandPicture) -> str:
    """Return one band with the curves it judges."""
    spread = shown.spread
    sides = [spread.low, spread.high, *(each.values for each in shown.worst)]
    known = [side for side in (shown.lower, shown.upper) if np.isfinite(side).all()]
    drawn = plot(
        WIDTH,
        HEIGHT,
        (float(spread.frequency_hz[0]), float(spread.frequency_hz[-1])),
        roomy(np.concatenate([*sides, *known]).tolist()),
        logarithmic=True,
    )
    hz = spread.frequency_hz.tolist()
    inner = [
        *drawn.band(hz, shown.lower.tolist(), shown.upper.tolist()),
        drawn.frame("Hz", f"{shown.reading} in {spread.unit}{relative(shown)}"),
        *drawn.line(hz, spread.low.tolist(), dash=SPREAD_DASH, width=1.0),
        *drawn.line(hz, spread.high.tolist(), dash=SPREAD_DASH, width=1.0),
        *drawn.line(hz, spread.middle.tolist()),
    ]
    for each in shown.worst:
        inner += drawn.line(hz, each.values.tolist(), dash=WORST_DASH, width=1.2)
    names = ", ".join(each.serial for each in shown.worst)
    fails = f"Units that fail it: {shown.failing}" + (f"; furthest {names}." if names else ".")
    return f"<h3>{escape(shown.reading)}</h3><p>{escape(fails)}</p>" + picture(
        WIDTH, HEIGHT, f"{shown.reading} of all units in its band", inner
    )


def relative(shown: BandPicture) -> str:
    """Return what a relative curve is relative to."""
    return " against the reference" if shown.spread.relative else ""
