"""`station engineer`: limits over many units, moved by keys."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from station.cli.limits.trying import opened_log, with_population
from station.cli.quality.gaugebench import BenchOptions, StationGaugeBench
from station.cli.shared.exitcodes import Exit
from station.cli.shared.faultkeeping import fault_keeper
from station.cli.wiring.wiring import log_folder
from station.errors import RefusedInputError
from station.hardware.protocols.clock import Clock, SystemClock
from station.judging.files.limit_file import limit_file
from station.quality.drafts.file import write_draft
from station.quality.judged.units import Choice, stored_units
from station.quality.watching.curves import CurvePoint
from station.quality.watching.watched import Wanted, Watched, watched_production
from station.quality.whatif.draft import Draft, draft_text, opened_draft
from station.records.log.log import RunLog
from station.records.log.watch import WatchLog
from station.records.summaries.runlist import Period
from station.screens.engineer.app import EngineerApp


@dataclass(frozen=True, slots=True)
class Looks:
    """How production is charted, as `station watch` does."""

    subgroup: int
    baseline: int
    references: tuple[str, ...] = ()


class LogWorkshop:
    """Drafts begin as limit files and are tried on the log."""

    def __init__(
        self, log: RunLog, files: Mapping[str, Path], clock: Clock, looks: Looks, *, simulated: bool
    ) -> None:
        self._looks = looks
        self._log = log
        self._clock = clock
        self._files = files
        self.simulated = simulated

    def models(self) -> tuple[str, ...]:
        """Return the models that have both a limit file and runs."""
        return tuple(model for model in self._log.models() if model in self._files)

    def opened(self, model: str, period: Period) -> Draft:
        """Return a model's limits on its newest runs in a period."""
        limits, text = limit_file(self._files[model])
        units = stored_units(self._log, model, Choice(period))
        return opened_draft(with_population(self._log, units, limits, text), limits)

    def watched(self, model: str, period: Period, points: tuple[CurvePoint, ...]) -> Watched:
        """Return a model's production in a period."""
        looks = self._looks
        wanted = Wanted(
            period.since_utc,
            period.until_utc,
            model,
            looks.references,
            looks.subgroup,
            looks.baseline,
            points,
        )
        return watched_production(WatchLog(self._log), wanted)

    def suggested_name(self, draft: Draft) -> str:
        """Return a name beside which no limit file lies that claims the same units."""
        stem = self._files[draft.limits.model.name].stem
        return str(Path("drafts") / f"{stem}-{draft.limits.model.revision}-draft.toml")

    def saved(self, draft: Draft, name: str) -> Path:
        """Write a draft to a new file."""
        source = self._files[draft.limits.model.name]
        _, text = limit_file(source)
        path = Path(name)
        day = self._clock.utc_now().date()
        write_draft(path, draft_text(text, draft, day), draft.limits, source.parent)
        return path


def files_by_model(folder: Path, draft: Path | None) -> dict[str, Path]:
    """Return the limit file of each model: a draft before the one in the folder."""
    files = {limit_file(path)[0].model.name: path for path in sorted(folder.glob("*.toml"))}
    if draft is not None:
        files[limit_file(draft)[0].model.name] = draft
    if not files:
        raise RefusedInputError(
            f"There is no limit file in {folder}.", "Name a folder with --limits-folder."
        )
    return files


def run_engineer(draft: Path | None, options: BenchOptions, looks: Looks) -> int:
    """Show the engineer's screen until it is left."""
    files = files_by_model(options.limits_folder, draft)
    clock, simulate = SystemClock(), options.simulate
    with opened_log(options.logs, simulate=simulate) as log:
        gauges = StationGaugeBench(log, clock, options)
        app = EngineerApp(
            LogWorkshop(log, files, clock, looks, simulated=simulate),
            gauges,
            now_utc=clock.utc_now(),
            on_fault=fault_keeper(log_folder(options.logs, simulated=simulate), clock),
        )
        try:
            app.run(mouse=False)
        finally:
            gauges.let_go()
    return Exit.PASS
