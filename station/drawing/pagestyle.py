"""The look of a study's page: black on white, one column on paper, two on the screen."""

from __future__ import annotations

STYLE = """
body { font: 14px/1.45 system-ui, "DejaVu Sans", sans-serif; color: #111; background: #fff;
  max-width: 960px; margin: 2em auto; padding: 0 1em; }
h1 { font-size: 1.7em; margin: 0; }
h2 { font-size: 1.25em; margin: 1.8em 0 .4em; border-bottom: 2px solid #111; }
h3 { font-size: 1em; margin: 1em 0 .2em; }
h4 { font-size: .9em; margin: .3em 0 0; }
.facts { color: #555; margin: .2em 0 1em; font-size: .9em; }
.cards { display: grid; grid-template-columns: repeat(4, 1fr); gap: 12px; }
.cards div { border: 1px solid #111; padding: 10px 12px; }
.cards b { display: block; font-size: 1.6em; line-height: 1.2; }
.cards span { display: block; font-weight: 600; }
.cards small, dd, dt, table { font-size: .82em; }
.cards small { color: #555; }
.grid { display: grid; grid-template-columns: 1fr 1fr; gap: 6px 32px; }
section { break-inside: avoid; }
svg { width: 100%; height: auto; font-family: inherit; }
dl { display: grid; grid-template-columns: 3.2em 1fr; gap: 0 .5em; margin: .1em 0 .3em; }
dt { color: #555; }
dd { margin: 0; }
summary { font-size: .82em; color: #555; cursor: pointer; }
table { border-collapse: collapse; width: 100%; margin: .3em 0; }
th { text-align: left; border-bottom: 1px solid #111; }
th, td { padding: 3px 10px 3px 0; vertical-align: top; }
tbody tr:nth-child(even) { background: #f4f4f4; }
table.matrix td:not(:first-child) { text-align: center; padding: 3px 4px; }
table.matrix th:not(:first-child) { text-align: center; padding: 3px 4px; }
.matrix tbody tr:nth-child(even) { background: none; }
@media print { body { margin: 0; max-width: none; } details { display: none; } }
"""
