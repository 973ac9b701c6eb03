"""The tables under `[readings]` of a limit file: which readings are computed, and how."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from station.judging.tables.fieldtypes import DriveV, GateS, PerOctave, Positive, Span, Words
from station.judging.tables.impedancetables import (
    ClosedBoxTable,
    DriverTable,
    ImpedanceTable,
    PanelTable,
)
from station.tomlfiles.loading import StrictModel

# Sweeps at rising levels go a third of an octave beyond the band, so that its edges are driven.
BESIDE_RATIO = 10.0**0.1


class ResponseTable(Span):
    """Response: level at 1 m for `for_v`, on standard bands.

    With `noise_margin_db`, what is read from the response is trusted only where a good unit would
    be so far above the noise before the sweep; see signaltonoise.py.
    """

    bands_per_octave: PerOctave
    gate_s: GateS
    for_v: DriveV
    noise_margin_db: Positive | None = None


class DistortionTable(Span):
    """Harmonics and their sum.

    With `noise_margin_db`, one above its limit fails a unit only if it is so far above what noise
    alone would have read.
    """

    bands_per_octave: PerOctave
    orders: Annotated[tuple[Annotated[int, Field(ge=2, le=10)], ...], Field(min_length=1)]
    noise_margin_db: Positive | None = None


class RubTable(Span):
    """Rub and buzz; what is heard must reach beyond the eleventh harmonic of what is played.

    `noise_margin_db` as for the harmonics: this is for steady noise, of which a peak says little;
    a single noise in the room is told by `[repeats] noise`.
    """

    heard_from_hz: Positive
    heard_to_hz: Positive
    noise_margin_db: Positive | None = None

    @model_validator(mode="after")
    def check_heard(self) -> RubTable:
        """Refuse a residual that could not be heard where it is looked for."""
        if self.heard_to_hz <= self.heard_from_hz:
            raise ValueError("heard_to_hz must be above heard_from_hz")
        beyond_hz = 11.0 * self.to_hz * 2.0 ** (1.0 / 6.0)
        if self.heard_to_hz <= beyond_hz:
            raise ValueError(f"heard_to_hz must be above {beyond_hz:.0f}, or to_hz lower")
        return self


class SectionTable(Span):
    """One section and the band in which it alone is heard."""

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]


class IdleNoiseTable(StrictModel):
    """What a powered unit lets hear before the sweep, and its hum at so many mains multiples.

    It needs the ambient microphone and a lead-in of 0.25 s or more, which resolves 6 Hz; one of
    1 s resolves 1.5 Hz. With `noise_margin_db`, a unit fails only if it is so much louder than
    the room at the ambient microphone; nothing is subtracted.
    """

    hum_orders: Annotated[int, Field(ge=1, le=20)]
    noise_margin_db: Positive | None = None


class FilterTable(StrictModel):
    """A filter in the response: its passband, and the straight part of its flank."""

    kind: Literal["low-pass", "high-pass"]
    passband_from_hz: Positive
    passband_to_hz: Positive
    slope_from_hz: Positive
    slope_to_hz: Positive

    @model_validator(mode="after")
    def check_order(self) -> FilterTable:
        """Refuse spans that do not rise, and a flank on the wrong side of the passband."""
        passband = self.passband_from_hz, self.passband_to_hz
        slope = self.slope_from_hz, self.slope_to_hz
        first, second = (passband, slope) if self.kind == "low-pass" else (slope, passband)
        if not first[0] < first[1] <= second[0] < second[1]:
            raise ValueError(f"passband and slope of a {self.kind} must rise and not overlap")
        return self

    @property
    def span_hz(self) -> tuple[float, float]:
        """Lowest and highest frequency that is read."""
        lowest_hz = min(self.passband_from_hz, self.slope_from_hz)
        return lowest_hz, max(self.passband_to_hz, self.slope_to_hz)


class CompressionTable(Span):
    """Sweeps at rising levels after the main one: where a limiter or clipping sets in.

    Each sweep lasts `duration_s` and covers the band and a third of an octave on both sides;
    `silence_s` stands before and after it, longer than the station's latency and the unit's decay.
    """

    levels_v: Annotated[tuple[Positive, ...], Field(min_length=2, max_length=12)]
    bands_per_octave: PerOctave
    duration_s: Annotated[float, Field(gt=0.0, le=5.0)]
    silence_s: Annotated[float, Field(ge=0.05, le=2.0)]
    gate_s: GateS
    reached_db: Positive

    @field_validator("levels_v")
    @classmethod
    def check_levels(cls, levels_v: tuple[float, ...]) -> tuple[float, ...]:
        """Refuse levels that do not rise."""
        if any(after <= before for before, after in pairwise(levels_v)):
            raise ValueError("levels_v must rise")
        return levels_v

    @model_validator(mode="after")
    def check_duration(self) -> CompressionTable:
        """Refuse sweeps too short to hold two periods of the frequency they begin at."""
        shortest_s = 2.0 * BESIDE_RATIO**2 / self.from_hz
        if self.duration_s < shortest_s:
            raise ValueError(f"duration_s must be {shortest_s:.2g} or more for this from_hz")
        return self


class DipoleTable(Span):
    """The sound behind the unit against the sound before it; needs the rear microphone."""

    longest_delay_s: Positive


class PatternTable(StrictModel):
    """The population a curve is compared with: a file beside this one, fixed by its SHA-256."""

    file: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$")]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    curve: Words


class ReadingsTable(StrictModel):
    """Which readings are computed, and how; response is always needed."""

    response: ResponseTable
    sensitivity: Span | None = None
    distortion: DistortionTable | None = None
    rub: RubTable | None = None
    impedance: ImpedanceTable | None = None
    resonance: Span | None = None
    driver: DriverTable | None = None
    closed_box: ClosedBoxTable | None = None
    panel: PanelTable | None = None
    idle_noise: IdleNoiseTable | None = None
    filter: FilterTable | None = None
    dipole: DipoleTable | None = None
    pattern: PatternTable | None = None
    compression: CompressionTable | None = None
    sections: tuple[SectionTable, ...] = ()

    @model_validator(mode="after")
    def check_sources(self) -> ReadingsTable:
        """Refuse a reading without the one it is read from."""
        needs = (
            ("resonance", self.resonance, "impedance", self.impedance),
            ("driver", self.driver, "resonance", self.resonance),
            ("closed_box", self.closed_box, "driver", self.driver),
            ("panel", self.panel, "impedance", self.impedance),
        )
        for name, table, source, needed in needs:
            if table is not None and needed is None:
                raise ValueError(f"{name} needs the {source} table")
        return self

    @model_validator(mode="after")
    def check_spans(self) -> ReadingsTable:
        """Refuse a reading that reaches beyond the curve it is read from."""
        for name, span in (("driver", self.driver), ("panel", self.panel)):
            if span is not None and self.impedance is not None and not self.impedance.holds(span):
                raise ValueError(f"{name} reaches beyond the impedance")
        if self.filter is not None:
            lowest_hz, highest_hz = self.filter.span_hz
            if lowest_hz < self.response.from_hz or highest_hz > self.response.to_hz:
                raise ValueError("filter reaches beyond the response")
        return self
