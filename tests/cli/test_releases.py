"""What the station does with released, changed, copied, old and unreleased limit files."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from station.records.log.log import RunLog
from tests.cli.works import PASSPHRASE, Works, new_works

PASS, REFUSED, FAULT = 0, 2, 4


def refused(works: Works, told: str, *arguments: str | Path) -> None:
    """Test a unit, and find it refused with a sentence that is in the log as well."""
    shown = works.test("T2A00901", *arguments)
    assert shown.code == REFUSED
    assert told in shown.err
    assert shown.out == ""
    assert told in works.refusals()[-1]


def test_a_released_file_judges_and_the_release_is_in_the_log(works: Works) -> None:
    assert works.test().code == PASS
    (run,) = works.run("history", "T2A00901", "--json").runs()
    assert (run["trial"], run["operator"]) == (False, None)
    (released,) = works.run("limits", "releases", "--json").runs()
    assert (released["model"], released["revision"]) == ("Tarn 2", "A")
    assert released["released_by"] == "I. Thwaite"
    assert "released" in works.run("people", "acts").out
    assert works.refusals() == []


def test_an_unreleased_file_is_refused_outside_a_trial(works: Works) -> None:
    (works.limits / "tarn2.release").unlink()
    refused(works, "tarn2.toml is not released: there is no tarn2.release beside it.")
    assert works.run("history", "T2A00901").code == REFUSED  # nothing was stored


def test_a_trial_is_marked_and_never_counts_as_production(works: Works) -> None:
    (works.limits / "tarn2.release").unlink()
    shown = works.test("T2A00901", "--trial")
    assert shown.code == PASS
    assert shown.out.startswith("TRIAL: PASS  T2A00901")
    assert "a trial, no result of production" in shown.out
    (run,) = works.run("history", "T2A00901", "--json").runs()
    assert run["trial"] is True
    assert "TRIAL: PASS" in works.run("history", "T2A00901").out
    with RunLog.open(works.database.parent) as log:
        assert log.newest_runs("Tarn 2", "A") == ()
        assert log.chain_fault() is None


@pytest.mark.parametrize("place", [0.1, 0.5, 0.9])
def test_one_changed_byte_of_the_limits_is_refused(works: Works, place: float) -> None:
    text = works.tarn.read_text(encoding="utf-8")
    comment = text.index("#", int(place * len(text) * 0.1))  # a comment decides nothing
    changed = f"{text[: comment + 2]}{chr(ord(text[comment + 2]) ^ 1)}{text[comment + 3 :]}"
    works.tarn.write_text(changed, encoding="utf-8")
    refused(works, "tarn2.toml was changed after I. Thwaite released it on ")


def test_a_moved_limit_is_refused(works: Works) -> None:
    text = works.tarn.read_text(encoding="utf-8")
    assert "lower = 0.7\n" in text
    works.tarn.write_text(text.replace("lower = 0.7\n", "lower = 0.6\n"), encoding="utf-8")
    refused(works, "tarn2.toml was changed after I. Thwaite released it on ")


def test_one_changed_byte_of_the_release_is_refused(works: Works) -> None:
    path = works.limits / "tarn2.release"
    whole = path.read_bytes()
    for place in range(0, len(whole), len(whole) // 14):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        refused(works, "tarn2.release was changed after it was signed: ")
    path.write_bytes(whole + b"\n")
    refused(works, "tarn2.release was changed after it was signed: ")


def test_another_key_is_not_trusted_and_cannot_take_the_first_ones_place(works: Works) -> None:
    other = works.make_key()
    unsigned = works.release(works.tarn, other)
    assert unsigned.code == REFUSED
    assert "is not trusted in this log. An engineer trusts it" in unsigned.err
    # signed elsewhere, where the other key is trusted
    elsewhere = new_works(works.folder / "elsewhere", works.station)
    assert elsewhere.trust(other).code == PASS
    assert elsewhere.release(elsewhere.tarn, other).code == PASS
    shutil.copy(elsewhere.limits / "tarn2.release", works.limits)
    refused(works, "which this station does not trust.")


def test_a_replaced_key_in_the_release_breaks_the_signature(works: Works) -> None:
    other = works.make_key()
    path = works.limits / "tarn2.release"
    release = json.loads(path.read_text())
    release["public_key"] = json.loads(other.read_text())["public_key"]
    path.write_text(json.dumps(release, indent=2) + "\n")
    refused(works, "tarn2.release was changed after it was signed: its signature does not fit.")


def test_a_copied_release_is_refused(works: Works) -> None:
    assert works.release(works.limits / "fell60.toml", works.key).code == PASS
    shutil.copy(works.limits / "fell60.release", works.limits / "tarn2.release")
    refused(works, "tarn2.release is the release of Fell 60 revision A, not of Tarn 2 revision A.")


def test_the_release_of_another_revision_is_refused(works: Works) -> None:
    newer = works.revision_b()
    assert works.release(newer, works.key).code == PASS
    shutil.copy(works.limits / "tarn2-b.release", works.limits / "tarn2.release")
    refused(works, "tarn2.release is the release of Tarn 2 revision B, not of Tarn 2 revision A.")


def test_each_unit_is_judged_by_the_revision_it_was_built_to(works: Works) -> None:
    assert works.release(works.revision_b(), works.key).code == PASS
    (older,) = works.test("T2A01499", "--json").runs()
    (newer,) = works.test("T2A01500", "--json").runs()
    assert (older["revision"], newer["revision"]) == ("A", "B")
    # the newer revision's file is taken away: the older one's signature holds, and is not enough
    (works.limits / "tarn2-b.toml").unlink()
    assert works.test("T2A01499").code == PASS
    shown = works.test("T2A01500")
    told = (
        "T2A01500 was built to revision B of the Tarn 2, which holds from T2A01500; "
        "tarn2.toml is revision A."
    )
    assert shown.code == REFUSED
    assert told in shown.err
    assert works.refusals() == [told]


def test_a_station_remembers_a_release_it_only_received(works: Works) -> None:
    assert works.release(works.revision_b(), works.key).code == PASS
    line = new_works(works.folder / "line", works.station)
    assert line.trust(works.key).code == PASS
    for path in works.limits.iterdir():
        shutil.copy(path, line.limits)
    assert line.test("T2A01500").code == PASS
    assert len(line.run("limits", "releases", "--json").runs()) == 2
    (line.limits / "tarn2-b.toml").unlink()
    assert line.test("T2A01500").code == REFUSED


def test_a_revision_is_released_once_and_says_where_it_begins(works: Works) -> None:
    again = works.release(works.tarn, works.key)
    assert again.code == PASS
    assert "was released already" in again.out
    text = works.tarn.read_text(encoding="utf-8")
    works.tarn.write_text(f"{text}\n# a remark\n", encoding="utf-8")
    changed = works.release(works.tarn, works.key)
    assert changed.code == REFUSED
    assert "with other contents, and a revision never changes." in changed.err
    works.tarn.write_text(text.replace('revision = "A"', 'revision = "B"'), encoding="utf-8")
    beginless = works.release(works.tarn, works.key)
    assert beginless.code == REFUSED
    assert "Revision A of the Tarn 2 begins with the first unit already." in beginless.err
    assert len(works.refusals()) == 2


def archived(works: Works, begins: str = "") -> Path:
    """Write a limit file from before the log into the archive."""
    archive = works.limits / "archive"
    archive.mkdir()
    shutil.copy(works.limits / "tarn2.pattern.json", archive)
    text = works.tarn.read_text(encoding="utf-8")
    old = archive / "tarn2-0.toml"
    revision = f'revision = "0"{begins}'
    old.write_text(text.replace('revision = "A"', revision), encoding="utf-8")
    return old


def moved_to_the_line(old: Path, limits: Path) -> Path:
    """Put a file of the archive with its release where those of the line are."""
    for path in (old, old.with_suffix(".release")):
        shutil.move(path, limits)
    return limits / old.name


def test_a_file_of_the_archive_judges_in_service_once_released_and_never_on_the_line(
    works: Works,
) -> None:
    old = archived(works)
    service = ("--by", "T. Beck", "--limits-folder", works.limits)
    assert works.run("service", "open", "T2A00901", *service).code == PASS
    unreleased = works.run("service", "test", "T2A00901", *service)
    assert unreleased.code == REFUSED
    assert unreleased.out == ""
    assert "tarn2-0.toml is not released: there is no tarn2-0.release" in works.refusals()[-1]
    # it begins with the first unit, as revision A does, and may: production never asks for it
    assert works.release(old, works.key).code == PASS
    (tested,) = works.run("service", "test", "T2A00901", *service, "--json").runs()
    assert (tested["verdict"], tested["revision"], tested["limits_from"]) == (
        "pass",
        "0",
        "archive",
    )
    (produced,) = works.test("T2A00902", "--json").runs()
    assert produced["revision"] == "A"


def test_a_file_moved_out_of_the_archive_does_not_judge_on_the_line(works: Works) -> None:
    assert works.test().code == PASS  # revision A
    old = archived(works)
    assert works.release(old, works.key).code == PASS
    moved = moved_to_the_line(old, works.limits)
    kept = works.tarn.rename(works.folder / "kept.toml")
    refused(
        works,
        "T2A00901 was built to revision A of the Tarn 2, which holds from the first unit; "
        "tarn2-0.toml is revision 0.",
    )
    # nor by releasing it there: the line's revision begins with the same unit
    again = works.release(moved, works.key)
    assert again.code == REFUSED
    assert "Revision A of the Tarn 2 begins with the first unit already." in again.err
    moved.unlink()
    kept.rename(works.tarn)
    assert works.test().code == PASS


def test_a_station_that_only_received_it_refuses_it_as_well(works: Works) -> None:
    line = new_works(works.folder / "line", works.station)
    assert line.trust(works.key).code == PASS
    shutil.copy(works.limits / "tarn2.release", line.limits)
    assert line.test().code == PASS
    old = archived(works)
    assert works.release(old, works.key).code == PASS
    moved_to_the_line(old, line.limits)
    line.tarn.unlink()
    refused(line, "T2A00901 was built to revision A of the Tarn 2, ")


def test_a_file_of_the_archive_judges_on_the_line_once_it_is_released_there(works: Works) -> None:
    old = archived(works, '\nholds_from = "T2A00900"')
    assert works.release(old, works.key).code == PASS
    moved = moved_to_the_line(old, works.limits)
    refused(works, "T2A00901 was built to revision A of the Tarn 2, which holds from ")
    released = works.release(moved, works.key)
    assert released.code == PASS
    assert "is released" in released.out
    (tested,) = works.test("T2A00901", "--json").runs()
    assert tested["revision"] == "0"
    (before,) = works.test("T2A00899", "--json").runs()
    assert before["revision"] == "A"
    assert "was released already" in works.release(moved, works.key).out


def test_a_file_that_was_released_in_the_archive_alone_is_not_for_the_line(
    works: Works,
) -> None:
    fell = works.limits / "fell60.toml"
    archive = works.limits / "archive"
    archive.mkdir()
    for path in (fell, works.limits / "fell60.pattern.json"):
        shutil.copy(path, archive)
    assert works.release(archive / fell.name, works.key).code == PASS
    shutil.copy(archive / "fell60.release", works.limits)
    shown = works.test("F6A00901")
    assert shown.code == REFUSED
    assert "fell60.toml is released for units in service, not for the line." in shown.err
    assert "ask the quality engineer to release fell60.toml there." in shown.err
    assert works.release(fell, works.key).code == PASS
    assert works.test("F6A00901").code == PASS


def test_a_distrusted_key_releases_no_longer(works: Works) -> None:
    listed = works.run("keys", "list").out
    fingerprint = listed.splitlines()[2].split()[0]
    shown = works.run("keys", "distrust", fingerprint, "--reason", "lost", *works.by())
    assert shown.code == PASS
    refused(works, f"signed by the key {fingerprint}, which this station does not trust.")


def test_an_act_taken_out_of_the_database_stops_the_line(works: Works) -> None:
    works.tamper("DELETE FROM role_acts WHERE seq = 1")
    shown = works.test()
    assert shown.code == FAULT
    assert shown.err.startswith("The log was tampered with at ")
    assert "Role act number 1 is gone." in shown.err
    with RunLog.open(works.database.parent) as log:
        assert "Role act number 1 is gone." in log.role_acts()[-1].details["happened"]
    assert works.trust(works.make_key()).code == FAULT


def test_a_forged_act_is_believed_by_nobody(works: Works) -> None:
    works.tamper("UPDATE role_acts SET person = 'J. Moor' WHERE act = 'trusted'")
    shown = works.test()  # the start finds the row, and goes on without it
    assert shown.code == REFUSED
    assert "Lost: role_acts " in shown.err
    assert "which this station does not trust." in shown.err
    assert "which this station does not trust." in works.refusals()[-1]


def test_a_release_taken_out_lets_no_older_revision_back_in(works: Works) -> None:
    assert works.release(works.revision_b(), works.key).code == PASS
    works.tamper("UPDATE releases SET holds_from = 'T2A99999' WHERE revision = 'B'")
    (works.limits / "tarn2-b.toml").unlink()
    shown = works.test("T2A01500")
    assert shown.code == REFUSED
    told = "The log was damaged and lost releases 2: what is released and trusted is not certain."
    assert told in shown.err
    assert works.refusals() == [told]
    operator = works.add("J. Moor", "operator", "--badge", "OP-0417", *works.by())
    assert operator.code == PASS
    refused = works.run("keys", "confirm", *works.by("J. Moor", "123456"))
    assert "J. Moor is an operator: trusting a key needs an engineer." in refused.err
    assert works.test("T2A00901").code == REFUSED
    assert works.run("keys", "confirm", *works.by()).code == PASS
    assert works.test("T2A00901").code == PASS
    assert "Nothing is to be done." in works.run("keys", "confirm", *works.by()).err


def test_the_demonstration_key_is_believed_on_simulated_lines_only(
    tmp_path: Path, station: Any
) -> None:
    from tests.cycle.line import LIMITS  # noqa: PLC0415 - beside its only use

    works = new_works(tmp_path, station)
    shutil.copy(LIMITS / "tarn2.release", works.limits)
    assert works.test().code == PASS
    assert works.run("limits", "releases").out.startswith("Nothing is released.")


def test_a_wrong_passphrase_signs_nothing(works: Works) -> None:
    key = works.make_key()
    assert works.trust(key).code == PASS
    wrong = works.file("wrong", "open sesame, please")
    path = works.limits / "fell60.toml"
    shown = works.run(
        "limits", "release", path, "--key", key, "--passphrase-file", wrong, *works.by()
    )
    assert shown.code == REFUSED
    assert "The passphrase does not open" in shown.err
    assert not (works.limits / "fell60.release").exists()
    assert PASSPHRASE not in key.read_text()


def test_a_file_with_faults_is_not_released(works: Works) -> None:
    path = works.limits / "fell60.toml"
    path.write_text(path.read_text().replace("void = 2", "void = -2"))
    shown = works.run("limits", "release", path, "--key", "nowhere", *works.by())
    assert shown.code == REFUSED
    assert "repeats.void" in shown.err
