"""The colours of the screens: all from the 256-colour set, so that none shifts on a plain terminal.

Meaning is carried by word and shape as well; no two verdicts differ by red against green.
"""

from __future__ import annotations

GROUND = "#121212"
PANEL = "#262626"
TEXT = "#eeeeee"
MUTED = "#a8a8a8"

PASS_GROUND = "#005f87"
PASS_INK = "#ffffff"
FAIL_GROUND = "#ff8700"
VOID_GROUND = "#ffd700"
STATION_GROUND = "#eeeeee"
DARK_INK = "#000000"

PLOT_BAND = "#005f87"
PLOT_LIMIT = "#87d7ff"
PLOT_CURVE = "#ffffff"
PLOT_OUTSIDE = "#ffaf00"  # lighter than the fail, to stand out of the band
PLOT_GRID = "#6c6c6c"


def css_variables() -> dict[str, str]:
    """Return the colours under the names the style sheets use."""
    return {
        "station-ground": GROUND,
        "station-panel": PANEL,
        "station-text": TEXT,
        "station-muted": MUTED,
        "station-simulated": VOID_GROUND,
        "station-dark": DARK_INK,
    }
