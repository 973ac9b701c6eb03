from __future__ import annotations

from pathlib import Path

import pytest

from station.errors import TextFileError, UnknownSerialError
from station.judging.files.limit_file import limit_file, limit_file_from_text
from station.judging.files.planning import plan_of, sweep_of
from station.judging.files.shelf import limit_shelf
from tests.judging.example import LIMITS


def faults_of(text: str) -> tuple[str, ...]:
    with pytest.raises(TextFileError) as refusal:
        limit_file_from_text(text, "x.toml")
    return refusal.value.faults


def line_in(text: str, words: str) -> int:
    return text[: text.index(words)].count("\n") + 1


def test_a_good_file_becomes_sweep_and_plan() -> None:
    limits = limit_file_from_text(LIMITS, "x.toml")
    assert sweep_of(limits).level_v == 2.83
    plan = plan_of(limits)
    assert plan.sections[0].name == "woofer"
    assert plan.impedance is None
    assert plan.reference is not None
    assert abs(plan.reference.response[0]) == pytest.approx(10 ** (-30 / 20))


def test_six_faults_are_told_at_once_each_at_its_line() -> None:
    text = (
        LIMITS.replace("level_v = 2.83", 'level_v = "loud"')
        .replace("tail_s = 0.3\n", "")
        .replace("[1000.0, 84.0, 88.0]", "[1000.0, 88.0, 84.0]")
        .replace('reading = "sensitivity"', 'reading = "sensitivty"')
        .replace("[repeats]\nvoid = 2", "[repeats]\nvoid = 2\nfail = 1")
        .replace('when = [{reading = "response"}]', 'when = [{reading = "thd"}]')
    )
    faults = faults_of(text)
    assert len(faults) == 6
    for words, line in (
        ("stimulus.level_v", line_in(text, "level_v")),
        ("stimulus.tail_s", line_in(text, "[stimulus]")),
        ("lower 88 is not below upper 84", line_in(text, "points")),
        ("there is no number 'sensitivty'", line_in(text, '"sensitivty"')),
        ("repeats.fail", line_in(text, "fail = 1")),
        ("'thd' has no limit in this file", line_in(text, '"thd"')),
    ):
        assert any(fault.startswith(f"x.toml:{line}: ") and words in fault for fault in faults)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("stop_hz = 44000.0", "stop_hz = 48000.0", "needs rate_hz above"),
        ("to_hz = 10000.0", "to_hz = 43000.0", "lies above the sweep's"),
        ("from_hz = 100.0\nto_hz = 10000.0", "from_hz = 16.0\nto_hz = 10000.0", "lies below"),
        ("[100.0, 80.0, 90.0]", "[100.0, nan, 90.0]", "is not a number"),
        ("[100.0, 80.0, 90.0]", "[100.0, -inf, 90.0]", "open at every breakpoint or at none"),
        ('serial = "T2A[0-9]{5}"', 'serial = "T2A["', "not a regular expression"),
        ('serial = "T2A[0-9]{5}"', 'serial = "T2A[[0-9]{5}"', "Possible nested set"),
        ("deg = [0.0, 0.0]", "deg = [0.0]", "they must hold as many"),
        ("lower = 85.0\nupper = 87.0\n", "", "neither lower nor upper"),
        ('mode = "absolute"', 'mode = "floating"', "offset_db belongs to mode 'floating'"),
        ("format = 1", "format = 2", "Input should be 1"),
        ("format = 1", "format 1", "not valid TOML"),
    ],
)
def test_what_cannot_be_meant_is_refused(before: str, after: str, words: str) -> None:
    assert before in LIMITS
    assert any(words in fault for fault in faults_of(LIMITS.replace(before, after, 1)))


def test_a_relative_band_needs_the_reference() -> None:
    start, end = LIMITS.index("[reference]"), LIMITS.index("[[bands]]")
    text = (LIMITS[:start] + LIMITS[end:]).replace('mode = "absolute"', 'mode = "relative"')
    assert any("needs the reference table" in fault for fault in faults_of(text))


def test_a_missing_file_is_told_without_a_traceback(tmp_path: Path) -> None:
    with pytest.raises(TextFileError, match="There is no file"):
        limit_file(tmp_path / "none.toml")


def test_a_file_that_is_no_text_is_told(tmp_path: Path) -> None:
    path = tmp_path / "picture.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TextFileError, match="not UTF-8"):
        limit_file(path)


def test_the_shelf_finds_the_file_by_the_whole_serial(tmp_path: Path) -> None:
    (tmp_path / "tarn.toml").write_text(LIMITS)
    shelf = limit_shelf(tmp_path)
    assert shelf.for_serial("T2A00001").name == "tarn.toml"
    for serial in ("T2A000011", "xT2A00001", "", "T2A0000", "T2A00001\n"):
        with pytest.raises(UnknownSerialError, match="claims the serial number"):
            shelf.for_serial(serial)


def test_two_files_that_claim_one_serial_are_refused(tmp_path: Path) -> None:
    for name in ("a.toml", "b.toml"):
        (tmp_path / name).write_text(LIMITS)
    with pytest.raises(UnknownSerialError, match=r"a\.toml and b\.toml both claim"):
        limit_shelf(tmp_path).for_serial("T2A00001")


def test_every_faulty_file_of_the_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(LIMITS.replace("void = 2", "void = -2"))
    (tmp_path / "b.toml").write_text(LIMITS.replace("void = 2", "void = 99"))
    with pytest.raises(TextFileError) as refusal:
        limit_shelf(tmp_path)
    assert {Path(fault.split(":")[0]).name for fault in refusal.value.faults} == {
        "a.toml",
        "b.toml",
    }


def test_a_sweep_beyond_what_the_model_bears_is_refused_at_its_line(tmp_path: Path) -> None:
    text = f"{LIMITS}\n[safety]\nlargest_peak_v = 4.0\nloudest_db_spl = 88.0\n"
    path = tmp_path / "tarn2.toml"
    path.write_text(text)
    with pytest.raises(TextFileError) as caught:
        limit_file(path)
    line = next(n for n, row in enumerate(text.splitlines(), 1) if row.startswith("level_v"))
    assert caught.value.faults == (
        # 2.83 V RMS of a sine is 4.002 V peak.
        f"{path}:{line}: stimulus.level_v: reaches 4.00 V peak, above safety.largest_peak_v",
    )


def test_a_translation_is_of_what_an_advice_says_and_of_nothing_else() -> None:
    say = next(line for line in LIMITS.splitlines() if line.startswith("say = "))
    said = say.removeprefix("say = ")
    text = f'{LIMITS}\n[translations.de]\n{said} = "Auf Deutsch."\n'
    limits = limit_file_from_text(text, "x.toml")
    assert limits.translations == {"de": {said.strip('"'): "Auf Deutsch."}}
    text += '"Some other words." = "Andere Worte."\n'
    (fault,) = faults_of(text)
    assert fault.startswith(f"x.toml:{line_in(text, 'Some other words')}: ")
    assert "no advice says this" in fault
