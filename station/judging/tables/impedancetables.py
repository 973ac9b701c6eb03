"""The tables of a limit file for what is read from voltage and current."""

from __future__ import annotations

from pydantic import model_validator

from station.judging.tables.fieldtypes import GateS, NotNegative, PerOctave, Positive, Span
from station.tomlfiles.loading import StrictModel


class ImpedanceTable(Span):
    """Impedance and where its minimum is searched.

    With `rated_ohm` the rated impedance is checked (IEC 60268-5: the lowest |Z| is 80 % of it or
    more) over the minimum_ frequencies, which are then the rated frequency range.
    """

    bands_per_octave: PerOctave
    gate_s: GateS
    minimum_from_hz: Positive
    minimum_to_hz: Positive
    rated_ohm: Positive | None = None

    @model_validator(mode="after")
    def check_minimum(self) -> ImpedanceTable:
        """Refuse a span for the minimum that does not rise."""
        if self.minimum_to_hz <= self.minimum_from_hz:
            raise ValueError("minimum_to_hz must be above minimum_from_hz")
        return self

    def holds(self, span: Span) -> bool:
        """Return whether the impedance is measured over a whole span."""
        lowest_hz = min(self.from_hz, self.minimum_from_hz)
        highest_hz = max(self.to_hz, self.minimum_to_hz)
        return lowest_hz <= span.from_hz and span.to_hz <= highest_hz


class DriverTable(Span):
    """A driver that stands at the terminals, no crossover between: the span it is fitted over.

    From an octave below its resonance up to where the coil shows.
    """


class ClosedBoxTable(StrictModel):
    """The driver as it was in free air, with standard uncertainties, before it was built in."""

    free_fs_hz: Positive
    free_fs_uncertainty_hz: NotNegative
    free_qts: Positive
    free_qts_uncertainty: NotNegative


class PanelTable(Span):
    """An electrostatic panel behind a transformer: the span it is fitted over, above the crossover.

    The minimum of |Z| lies inside. The turns ratio is secondary over primary.
    """

    turns_ratio: Positive
