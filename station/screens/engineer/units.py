"""The view of single units: who flips or fails, each one's curve in its band."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.screen import Screen
from textual.widgets import OptionList, Static

from station.analysis.measure import Measured
from station.judging.tables.tables import NumberTable
from station.judging.verdicts.judge import judge
from station.judging.verdicts.verdict import AppliedBand, Judgement
from station.quality.judged.manyunits import VERDICTS
from station.quality.whatif.draft import verdict_before
from station.screens.engineer import engineerwording
from station.screens.engineer.desk import Desk, Workshop
from station.screens.engineer.title import TitleLine, title_of
from station.screens.shared import wording
from station.screens.shared.curvewidget import CurvePlot

MOST_LISTED = 500
MOST_CAUSES = 4


class UnitsScreen(Screen[None]):
    """Lists the units worth a look and shows the one that is chosen."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("n", "turn(1)", "Next limit"),
        Binding("p", "turn(-1)", "Limit before"),
    ]

    def __init__(self, desk: Desk, workshop: Workshop, views: str) -> None:
        super().__init__()
        self._desk = desk
        self._workshop = workshop
        self._views = views
        self._rows: list[int] = []
        self._turned = False  # until a limit is asked for, each unit's own cause is shown

    def compose(self) -> ComposeResult:
        """Lay out the view."""
        yield TitleLine(title_of(self._desk.draft), self._views, simulated=self._workshop.simulated)
        yield Static("", id="flips", classes="line", markup=False)
        with Horizontal():
            yield OptionList(id="units", markup=False)
            with Vertical(id="beside"):
                yield Static("", id="unit-title", classes="line strong", markup=False)
                yield CurvePlot(id="unit-plot")
                yield Static("", id="unit-causes", markup=False)
        yield Static(engineerwording.UNITS_KEYS, classes="keys", markup=False)

    def on_screen_resume(self) -> None:
        """List the units anew: another view may have changed the draft."""
        self._turned = False
        draft = self._desk.draft
        self.query_one("#flips", Static).update(engineerwording.flips_line(draft.counts))
        self._rows = draft.rows_worth_a_look[:MOST_LISTED].tolist()
        units = self.query_one(OptionList)
        units.clear_options()
        for row in self._rows:
            after = VERDICTS[draft.verdicts.codes[row]]
            before = verdict_before(draft, row)
            units.add_option(engineerwording.unit_line(draft.units.runs[row], before, after))
        units.focus()
        if self._rows:
            units.highlighted = 0
        else:
            self.query_one("#unit-title", Static).update(engineerwording.NO_UNITS_WORTH)
            self.query_one(CurvePlot).show("", None)

    @on(OptionList.OptionHighlighted, "#units")
    def show_unit(self, event: OptionList.OptionHighlighted) -> None:
        """Show the unit that was chosen."""
        self.show(self._rows[event.option_index])

    def show(self, row: int) -> None:
        """Show one unit under the limit that it fails, or that was asked for."""
        draft = self._desk.draft
        readings = draft.units.readings.readings(row)
        judgement = judge(Measured(readings, ()), draft.limits)
        after = VERDICTS[draft.verdicts.codes[row]]
        title = engineerwording.unit_title(draft.units.runs[row], verdict_before(draft, row), after)
        self.query_one("#unit-title", Static).update(title)
        causes = engineerwording.causes_lines(judgement.causes, MOST_CAUSES)
        self.query_one("#unit-causes", Static).update(causes)
        reading, band = self.band_to_show(judgement)
        name = wording.plot_title(reading, band.unit) if band is not None else wording.NO_CURVE
        self.query_one(CurvePlot).show(name, band)

    def band_to_show(self, judgement: Judgement) -> tuple[str, AppliedBand | None]:
        """Return the curve of the first cause, or of the limit that was asked for, or any."""
        wanted = [cause.reading.removesuffix(".offset") for cause in judgement.causes]
        if not isinstance(self._desk.limit, NumberTable):
            wanted.insert(0 if self._turned else len(wanted), self._desk.limit.reading)
        for reading in [*wanted, *judgement.bands]:
            if reading in judgement.bands:
                return reading, judgement.bands[reading]
        return "", None

    def action_turn(self, by: int) -> None:
        """Show the chosen unit under another limit."""
        self._desk.turn(by)
        self._turned = True
        highlighted = self.query_one(OptionList).highlighted
        if highlighted is not None and self._rows:
            self.show(self._rows[highlighted])
