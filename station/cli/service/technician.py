"""`station technician`: the technician's screen, on real or simulated hardware."""

from __future__ import annotations

import threading
import traceback
from pathlib import Path

from station.cli.service.paper import SIZES
from station.cli.service.serving import ServiceOptions, desk_with_bench
from station.cli.shared.exitcodes import Exit
from station.cli.shared.paperfiles import write_page
from station.cli.wiring.wiring import log_folder
from station.cycle.unit.report import ProgressCallback
from station.diagnosis.named.words import suspect_line
from station.judging.verdicts.verdict import Verdict
from station.records.log.log import RunLog
from station.reports.certificate import certificate
from station.reports.reworkcard import rework_card
from station.reports.suspectrows import diagnosis_of_run, suspect_rows
from station.reports.translations import language
from station.reports.unitfacts import UnitFacts, facts_for
from station.screens.technician.app import TechnicianApp
from station.screens.technician.ports import Desk, Views
from station.screens.technician.screen import TechnicianScreen
from station.service.builtband import band_as_built
from station.service.builtlimits import LimitSources, limit_sources
from station.service.dossier import Dossier
from station.service.servicetest import ServiceTest
from station.simulation.factory.returns import ReturnedUnits


class PaperPrinter:
    """Writes paper into a folder, in one language and size."""

    def __init__(
        self, log: RunLog, sources: LimitSources, out: Path, language_code: str, paper: str
    ) -> None:
        self._log = log
        self._sources = sources
        self._out = out
        self._language = language(language_code)
        self._size = SIZES[paper]

    def certificate(self, serial: str) -> tuple[Path, ...]:
        """Write the certificate and return its files."""
        page = certificate(self._facts(serial, Verdict.PASS), self._language, self._size)
        return write_page(self._out, f"{serial}-certificate", page)

    def rework_card(self, serial: str) -> tuple[Path, ...]:
        """Write the rework card and return its files."""
        facts = self._facts(serial, Verdict.FAIL)
        suspects = suspect_rows(diagnosis_of_run(facts.run, facts.limits), self._language)
        page = rework_card(facts, self._language, self._size, *suspects)
        return write_page(self._out, f"{serial}-rework", page)

    def _facts(self, serial: str, verdict: Verdict) -> UnitFacts:
        return facts_for(self._log, self._sources, serial, verdict)


class SimulatedDesk:
    """A desk whose units are mended when the right part is replaced."""

    def __init__(self, desk: Desk, units: ReturnedUnits) -> None:
        self._desk = desk
        self._units = units

    def look_up(self, serial: str, revision: str | None = None) -> Dossier:
        """Return what is known of a unit."""
        return self._desk.look_up(serial, revision)

    def last_test(self, dossier: Dossier) -> ServiceTest | None:
        """Return the newest test of the service under way."""
        return self._desk.last_test(dossier)

    def open(self, serial: str, by: str, complaint: str, revision: str | None = None) -> object:
        """Begin a service."""
        return self._desk.open(serial, by, complaint, revision)

    def test(
        self,
        serial: str,
        by: str,
        *,
        service_revision: str | None = None,
        on_progress: ProgressCallback,
        stop: threading.Event,
    ) -> ServiceTest:
        """Test a unit in service."""
        return self._desk.test(
            serial, by, service_revision=service_revision, on_progress=on_progress, stop=stop
        )

    def replace_part(self, serial: str, by: str, part: str, batch: str, reason: str) -> None:
        """Note a part that was replaced, and replace it in the simulated unit."""
        self._desk.replace_part(serial, by, part, batch, reason)
        self._units.replaced(serial, part)

    def confirm_cause(self, serial: str, by: str, part: str, words: str) -> None:
        """Note the part that was at fault."""
        self._desk.confirm_cause(serial, by, part, words)

    def check_partner(self, serial: str, by: str, partner: str) -> object:
        """Compare with the other unit of the pair."""
        return self._desk.check_partner(serial, by, partner)

    def close(self, serial: str, by: str, words: str = "") -> None:
        """End the service."""
        self._desk.close(serial, by, words)


def views_of(dossier: Dossier, test: ServiceTest) -> Views:
    """Return the pictures of a test, and who is suspected if it failed."""
    bands = test.final.judgement.bands
    limits = test.limits.shelved.limits
    built = None
    if dossier.as_built is not None:
        built = band_as_built(dossier.as_built.readings, test.final.readings, limits)
    worst = next((c.reading for c in test.final.judgement.causes if c.reading in bands), "response")
    suspect = ""
    if test.final.judgement.verdict is Verdict.FAIL:
        suspect = suspect_line(diagnosis_of_run(test.final, limits))
    return Views(bands.get(worst), built, suspect, worst)


def run_technician(
    options: ServiceOptions,
    by: str,
    pin_file: Path | None,
    out: Path,
    language_code: str,
    paper: str,
    *,
    seed: int,
    temperature_c: float | None,
) -> int:
    """Show the technician's screen until it is left."""
    units = ReturnedUnits(seed)
    held = desk_with_bench(
        options,
        by,
        pin_file,
        seed=seed,
        faults_of=units.faults_of,
        paced=True,
        temperature_c=temperature_c,
    )
    with held as (desk, bench, log):
        faults = log_folder(options.logs, simulated=bench.simulated) / "station-faults.txt"

        def keep(error: BaseException) -> None:
            with faults.open("a", encoding="utf-8") as file:
                file.write(f"{bench.clock.utc_now().isoformat()}\n")
                file.writelines(traceback.format_exception(error))

        screen = TechnicianScreen(
            SimulatedDesk(desk, units) if bench.simulated else desk,
            PaperPrinter(log, limit_sources(options.limits_folder), out, language_code, paper),
            views_of,
            by=by,
            station_name=bench.station.name,
            simulated=bench.simulated,
            on_fault=keep,
        )
        TechnicianApp(screen).run(mouse=False)
    return Exit.PASS
