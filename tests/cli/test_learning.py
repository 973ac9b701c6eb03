"""An engineer's morning by commands alone: learn a draft from the log, check it, try it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from station.judging.files.limit_file import limit_file
from tests.cycle.line import LIMITS as LIMITS_FOLDER
from tests.judging.example import LIMITS
from tests.quality.biglog import fill_log
from tests.quality.populations import smooth_readings
from tests.quality.storedunits import stored


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    """A log of 220 units by limits that were guessed."""
    rng = np.random.default_rng(9)
    fill_log(tmp_path / "logs", stored(smooth_readings(rng, 220, 0.6)))
    return tmp_path / "logs"


@pytest.fixture
def base(tmp_path: Path) -> Path:
    path = tmp_path / "base.toml"
    path.write_text(LIMITS.replace("[model]", "# for the tests\n[model]"))
    return path


def test_a_draft_is_learned_checked_and_tried(station: Any, logs: Path, base: Path) -> None:
    draft = base.parent / "drafts" / "b.toml"
    arguments = (
        "--serials", "T2A00[01][0-9][0-9]", "--revision", "B", "--holds-from", "T2A00500",
        "--author", "N. Quist",
    )  # fmt: skip
    learned = station("limits", "learn", base, draft, "--logs", logs, *arguments, "--also-failed")
    assert (learned.code, learned.err) == (0, "")
    assert "200 units" in learned.out
    assert "Left as they were: polarity.woofer" in learned.out
    assert station("limits", "check", draft).code == 0
    limits, text = limit_file(draft)
    assert (limits.model.revision, limits.model.author) == ("B", "N. Quist")
    assert limits.model.holds_from == "T2A00500"
    for word in ("200 units", "2026-01-03", "99.7 %", "confidence of 90 %", "standard deviations"):
        assert word in text
    assert "# for the tests" not in text  # it told of the old file
    (tried,) = station("limits", "try", draft, "--logs", logs, "--json").runs()
    assert tried["after"]["pass"] >= 217  # 99.7 % of 220 are 219.3
    assert tried["before"]["fail"] > tried["after"]["fail"]
    assert tried["newly_passing"]["count"] > 0
    again = station("limits", "learn", base, draft, "--logs", logs)
    assert again.code == 2
    assert "exists" in again.err


def test_a_population_is_learned_beside_the_draft(station: Any, logs: Path, base: Path) -> None:
    draft = base.parent / "c.toml"
    shown = station(
        "limits", "learn", base, draft, "--logs", logs, "--also-failed", "--pattern", "response"
    )
    assert shown.code == 0
    limits, _ = limit_file(draft)
    assert limits.readings.pattern is not None
    assert (base.parent / limits.readings.pattern.file).exists()
    assert limits.learned is not None
    assert len(limits.learned.member_ids) == 220
    (distance,) = [one for one in limits.numbers if one.reading == "pattern.distance"]
    assert distance.upper is not None
    assert 1.0 < distance.upper < 3.0  # a good unit's is about 1
    # The population is asked of the stored curves, though no stored run knew it.
    (tried,) = station("limits", "try", draft, "--logs", logs, "--json").runs()
    assert tried["after"]["void"] == 0
    assert tried["after"]["pass"] >= 217
    assert tried["not_read"] == tried["differing_tables"] == []


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (("--at-least", "response"), "is not READING=VALUE"),
        (("--at-least", "response=-1"), "above zero"),
        (("--serials", "X.*"), "no such run"),
        (("--until", "2026-01-03T08:20"), "too few"),
        (("--pattern", "thd"), "no curve"),
        (("--new-reference",), "has no recording"),
    ],
)
def test_wrong_use_is_refused_in_a_sentence(
    station: Any, logs: Path, base: Path, wrong: tuple[str, ...], told: str
) -> None:
    draft = base.parent / "d.toml"
    shown = station("limits", "learn", base, draft, "--logs", logs, "--also-failed", *wrong)
    assert shown.code == 2
    assert told in shown.err
    assert not draft.exists()


def test_passed_units_alone_count_where_nothing_else_is_said(
    station: Any, logs: Path, base: Path
) -> None:
    draft = base.parent / "e.toml"
    shown = station("limits", "learn", base, draft, "--logs", logs)
    (tried,) = station("limits", "try", base, "--logs", logs, "--json").runs()
    assert shown.code == 0
    assert f"{tried['before']['pass']} units" in shown.out
    assert tried["before"]["pass"] < 220


@pytest.mark.slow
def test_a_new_reference_is_read_into_all_recordings(station: Any, tmp_path: Path) -> None:
    """Two dozen simulated units with recordings; run with `pytest -m slow tests/cli`."""
    logs, tarn = tmp_path / "logs", LIMITS_FOLDER / "tarn2.toml"
    line = ("--simulate", "--limits-folder", LIMITS_FOLDER, "--logs", logs)
    for number in range(24):
        assert station("test", f"T2A{700 + number:05d}", *line).code == 0
    draft = tmp_path / "t.toml"
    shown = station("limits", "learn", tarn, draft, "--simulate", "--logs", logs, "--new-reference")
    assert shown.code == 0
    before, _ = limit_file(tarn)
    limits, _ = limit_file(draft)
    assert limits.reference is not None
    assert before.reference is not None
    assert limits.reference.unit != before.reference.unit
    level = next(one for one in limits.numbers if one.reading == "level.woofer")
    assert level.lower is not None
    assert level.upper is not None
    # Its own production lies about the reference: the most typical unit is near the middle.
    assert abs(level.lower + level.upper) < 0.5 * (level.upper - level.lower)
    words = ("--simulate", "--logs", logs, "--from-recordings", "--json")
    (tried,) = station("limits", "try", draft, *words).runs()
    assert tried["after"]["pass"] == 24
