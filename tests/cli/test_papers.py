"""The commands that find, compare and print, on the log of a small simulated shift."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.cycle.line import LIMITS
from tests.reports.reading import codes_in, pictures_of, text_of

PASS, REFUSED = 0, 2
GOOD, BAD = "T2A00701", "T2A00702"


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the log of a unit that passed and one that failed."""
    from station.cli.running import exit_code_of  # noqa: PLC0415 - a fixture of a whole module

    folder = tmp_path_factory.mktemp("logs")
    common = ["--simulate", "--limits-folder", str(LIMITS), "--logs", str(folder)]
    assert exit_code_of(["test", GOOD, *common]) == 0
    assert exit_code_of(["test", BAD, "--fault", "dead_tweeter", *common]) == 1
    return folder


def paper(logs: Path, out: Path) -> tuple[str | Path, ...]:
    return "--simulate", "--limits-folder", LIMITS, "--logs", logs, "--out", out


@pytest.mark.usefixtures("pdf_libraries")
def test_a_certificate_is_written_as_page_and_pdf(station: Any, logs: Path, tmp_path: Path) -> None:
    told = station("certificate", GOOD, "--language", "de", "--paper", "letter",
                   *paper(logs, tmp_path))  # fmt: skip
    assert told.code == PASS
    assert told.out.split() == [str(tmp_path / f"{GOOD}-certificate.{kind}") for kind in
                                ("html", "pdf")]  # fmt: skip
    assert "Prüfzeugnis" in text_of((tmp_path / f"{GOOD}-certificate.pdf").read_bytes())
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        f"{GOOD}-certificate.html", f"{GOOD}-certificate.pdf",
    ]  # fmt: skip


@pytest.mark.usefixtures("pdf_libraries")
def test_a_failed_unit_gets_a_card_and_no_certificate(
    station: Any, logs: Path, tmp_path: Path
) -> None:
    refused = station("certificate", BAD, *paper(logs, tmp_path))
    assert refused.code == REFUSED
    assert "Print its rework card instead" in refused.err
    assert not list(tmp_path.iterdir())
    assert station("rework-card", BAD, *paper(logs, tmp_path)).code == PASS
    card = text_of((tmp_path / f"{BAD}-rework.pdf").read_bytes())
    assert "The tweeter seems open" in card
    assert "Measure the tweeter at its own terminals" in card
    assert station("rework-card", GOOD, *paper(logs, tmp_path)).code == REFUSED
    assert station("label", GOOD, *paper(logs, tmp_path)).code == PASS
    codes = codes_in(pictures_of((tmp_path / f"{GOOD}-label.pdf").read_bytes())[0])
    assert GOOD in codes.values()


@pytest.mark.usefixtures("pdf_libraries")
def test_a_shift_page_bears_the_tip_of_the_log(station: Any, logs: Path, tmp_path: Path) -> None:
    told = station("shift-page", *paper(logs, tmp_path))
    assert told.code == PASS
    (pdf,) = tmp_path.glob("shift-*.pdf")
    found = text_of(pdf.read_bytes())
    (report,) = station("shift-report", "--simulate", "--logs", logs, "--json").runs()
    assert report["tips"]["runs"]["hash"] in found.replace(" ", "")
    (cause,) = report["causes"]
    assert f"FAIL {cause['runs']} {cause['happened']}" in found
    assert "Tarn 2 2 1 (50.0 %) 1 1 0 2" in found
    late = station("shift-page", "--from", "2026-01-02", "--to", "2026-01-01",
                   *paper(logs, tmp_path))  # fmt: skip
    assert late.code == REFUSED


@pytest.mark.usefixtures("pdf_libraries")
def test_a_shift_page_says_how_many_runs_it_leaves_out(
    station: Any, logs: Path, tmp_path: Path
) -> None:
    shutil.copytree(logs, tmp_path / "logs")
    common = paper(tmp_path / "logs", tmp_path)
    assert station("test", "T2A00703", "--trial", *common[:-2]).code == PASS
    assert station("shift-page", "--language", "de", *common).code == PASS
    (pdf,) = tmp_path.glob("shift-*.pdf")
    found = text_of(pdf.read_bytes())
    assert "Tarn 2 2 1 (50,0 %) 1 1 0 2" in found
    assert "Nicht mitgezählt, weil keine Fertigung: 1 Messung auf Probe." in found


@pytest.mark.usefixtures("pdf_libraries")
def test_runs_are_found_and_set_beside_each_other(station: Any, logs: Path, tmp_path: Path) -> None:
    common = ("--simulate", "--logs", logs)
    found = station("find", "0070", "--json", *common)
    assert [run["serial"] for run in found.runs()] == [BAD, GOOD]
    failed = station("find", "--verdict", "fail", "--cause", "tweeter", *common)
    assert BAD in failed.out
    assert GOOD not in failed.out
    assert station("find", "nothing like it", *common).out == "No run fits.\n"
    assert "Only the newest 1 are shown" in station("find", "--most", "1", *common).out
    named = found.runs()[1]["run"][:10]
    shown = station("compare", BAD, named, "--out", tmp_path, *common)
    assert shown.code == PASS
    assert "│" in shown.out
    assert "sensitivity" in shown.out
    page = (tmp_path / f"comparison-{BAD}-{GOOD}.html").read_text(encoding="utf-8")
    assert "Total harmonic distortion" in page


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ((GOOD,), "1 runs cannot be told apart"),
        ((GOOD, "X9"), "'X9' is neither a run nor a unit"),
        ((GOOD, BAD, "--curve", "colour"), "has no curve 'colour'"),
    ],
)
def test_what_cannot_be_compared_is_refused(
    station: Any, logs: Path, arguments: tuple[str, ...], sentence: str
) -> None:
    refused = station("compare", *arguments, "--simulate", "--logs", logs)
    assert refused.code == REFUSED
    assert sentence in refused.err


def test_a_folder_that_cannot_be_written_is_told(station: Any, logs: Path, tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("a file", encoding="utf-8")
    refused = station("certificate", GOOD, *paper(logs, taken / "below"))
    assert refused.code == REFUSED
    assert "cannot be written" in refused.err
