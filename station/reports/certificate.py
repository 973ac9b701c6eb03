"""The certificate of a unit that passed, new or after its service."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from station.judging.words.words import frequency_words
from station.records.kept.service import Step, StepKind
from station.reports.codes import bar_picture, qr_picture, unit_code
from station.reports.curvepicture import (
    BAND_FILL,
    GUARD_FILL,
    Picture,
    curve_picture,
    line_sample,
    surface_sample,
)
from station.reports.readingnames import reading_name
from station.reports.runwords import (
    built_words,
    calibration_rows,
    decision_rows,
    identity_rows,
    limits_rows,
    log_rows,
    reading_rows,
)
from station.reports.sheet import Codes, Paper, Shown, sheet
from station.reports.translations import Language
from station.reports.unitfacts import PartnerFacts, UnitFacts

CURVES = ("response", "impedance")  # the pictures of a certificate
PICTURE_HEIGHT = 190.0


def certificate(facts: UnitFacts, language: Language, paper: Paper) -> str:
    """Return the page."""
    return sheet(
        "certificate.html.jinja",
        language,
        paper,
        **common(facts, language),
        limits=tuple(limits_rows(language, facts)),
        decision=tuple(decision_rows(language, facts.run)),
        calibration=tuple(calibration_rows(language, facts.run)),
        figures=tuple(curve_figures(facts, language, CURVES, PICTURE_HEIGHT)),
        readings=tuple(reading_rows(language, facts)),
        service=service_block(facts, language),
    )


def common(facts: UnitFacts, language: Language) -> dict[str, Any]:
    """Return what every paper about a run has."""
    run = facts.run
    return {
        "created": run.started_utc,
        "footer": f"{run.model} · {run.serial} · {run.run_id}",
        "unit": run,
        "codes": codes_of(facts),
        "warnings": tuple(warnings(facts, language)),
        "identity": tuple(identity_rows(language, facts)),
        "log": tuple(log_rows(language, facts)),
    }


def codes_of(facts: UnitFacts) -> Codes:
    """Return the codes that name the unit and its run."""
    run = facts.run
    code = unit_code(run.serial, run.run_id, facts.place.hash)
    return Codes(qr_picture(code), bar_picture(run.serial))


def warnings(facts: UnitFacts, language: Language) -> Iterator[str]:
    """Yield what must not be overlooked."""
    if facts.run.simulated:
        yield language.text("SIMULATED: no real unit was tested.")
    if facts.run.trial:
        yield language.text("TRIAL: these limits need not be released; no result of production.")


def curve_figures(
    facts: UnitFacts, language: Language, names: tuple[str, ...], height: float
) -> Iterator[Shown]:
    """Yield a picture of each curve that the run has, with its band and the unit as built."""
    for name in names:
        curve = facts.run.readings.curves.get(name)
        if curve is None:
            continue
        built, band = facts.as_built(name), facts.bands.get(name)
        title = reading_name(language, name)
        curves = [curve] if built is None else [curve, built]
        svg = curve_picture(language, Picture(title, curve.unit, curves, band), height=height)
        yield Shown(title, svg, tuple(legend(facts, language, name)))


def legend(facts: UnitFacts, language: Language, name: str) -> Iterator[tuple[str, str]]:
    """Yield what each line and surface of a picture stands for."""
    _ = language.text
    yield line_sample(0), _("measured")
    if facts.as_built(name) is not None:
        when = built_words(language, facts)
        yield line_sample(1), _("as built, {when}").format(when=when)
    band = facts.bands.get(name)
    if band is None:
        return
    guarded = band.guard is not None and bool(band.guard.any())
    yield surface_sample(BAND_FILL), _("acceptance limits") if guarded else _("limits")
    if guarded:
        yield surface_sample(GUARD_FILL), _("tolerance limits")
    if band.outside.any():
        yield "", "◆ " + _("outside")


def service_block(facts: UnitFacts, language: Language) -> Mapping[str, Any] | None:
    """Return what was done in the service the run belongs to."""
    if facts.service is None:
        return None
    _, service = language.text, facts.service
    closed = service.of_kind(StepKind.CAUSE)
    rows = [
        (_("In service since"), language.instant(service.service.opened_utc)),
        (_("Technician"), service.service.opened_by),
        (_("Complaint"), service.service.complaint or "–"),
        *((_("Confirmed cause"), cause_line(step)) for step in closed),
    ]
    return {
        "facts": rows,
        "parts": [(s.part, s.batch, s.words) for s in service.of_kind(StepKind.PART)],
        "change": change_rows(facts, language),
        "words": tuple(service_words(facts, language)),
    }


def cause_line(step: Step) -> str:
    """Return a confirmed cause in the technician's words."""
    return f"{step.part}: {step.words}" if step.words else step.part


def change_rows(facts: UnitFacts, language: Language) -> list[tuple[str, str, str]]:
    """Return how the response differs from the unit as built, level and shape apart."""
    if facts.change is None:
        return []
    return [
        (
            f"{frequency(language, one.from_hz)} … {frequency(language, one.to_hz)}",
            signed_db(language, one.match.level_db),
            language.text("{margin} at {frequency}").format(
                margin=signed_db(language, one.match.worst_db),
                frequency=frequency(language, one.match.worst_hz),
            ),
        )
        for one in facts.change.bands
    ]


def service_words(facts: UnitFacts, language: Language) -> Iterator[str]:
    """Yield what is to be said of the comparison and of the pair."""
    _, change = language.text, facts.change
    if change is None:
        yield _("Nothing is known of the unit as built.")
    elif change.why_not:
        yield _("It cannot be compared with the unit as built.")
    elif change.within is not None:
        within, outside = (
            _("Inside the limits for a unit as built."),
            _("Outside the limits for a unit as built."),
        )
        yield within if change.within else outside
    if facts.partner is not None:
        yield from partner_words(facts.partner, language)


def partner_words(partner: PartnerFacts, language: Language) -> Iterator[str]:
    """Yield how alike the two units of the pair are."""
    _, match = language.text, partner.whole.match
    yield _("Partner of the pair, {serial}: level {level}, shape {shape} at most.").format(
        serial=partner.serial,
        level=signed_db(language, match.level_db),
        shape=language.figures(f"{match.shape_max_db:.2f} dB"),
    )
    if partner.within is not None:
        inside = _("Inside the limits for a pair.")
        yield inside if partner.within else _("Outside the limits for a pair.")


def frequency(language: Language, hz: float) -> str:
    """Return a frequency in words."""
    return language.figures(frequency_words(hz))


def signed_db(language: Language, level_db: float) -> str:
    """Return a difference of levels with its sign."""
    sign = "−" if round(level_db, 2) < 0.0 else "+"
    return language.figures(f"{sign}{abs(level_db):.2f} dB")
