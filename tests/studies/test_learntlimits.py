"""The proof of learnt limits, with so few units that it says only that the commands go together."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.studies.learntlimits import MODELS, figures, learnt, studied

GROSS = ("dead_woofer", "coil_rub=70")


def test_limits_are_learnt_released_and_studied_by_commands_alone(tmp_path: Path) -> None:
    draft, told = learnt(tmp_path, "tarn2", units=24)
    assert "24 units" in told
    assert draft.with_suffix(".release").exists()
    summary = studied(draft, GROSS, tmp_path / "power", 2, 1)
    assert (summary["revision"], summary["good"]["rejected"][0]) == ("B", 0)
    assert [one["found"][0] for one in summary["faults"].values()] == [1, 1]
    assert "of 2 fresh good units 2 passed (100.00%)" in figures(summary)


@pytest.mark.slow
def test_fresh_units_pass_and_every_fault_is_found(tmp_path: Path) -> None:
    draft, _ = learnt(tmp_path, "tarn2")
    summary = studied(draft, MODELS["tarn2"].faults, tmp_path / "power", 60, 1)
    # 99.7 % were asked for: of 60, one that fails is more than it should be and no proof.
    assert summary["good"]["rejected"][0] + summary["good"]["void"][0] <= 1
    missed = {name for name, one in summary["faults"].items() if one["found"][0] == 0}
    assert missed <= {"stiff_surround=0.1"}  # which nothing could find, see DEVELOPERS.md
