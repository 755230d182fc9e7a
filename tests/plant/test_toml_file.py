"""Reading files: what is said of a file that cannot be read, and on which line a fault lies."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.plant.toml_file import line_of, parse_change, parse_setup, read_change, read_setup
from ledger.refusals import Fault, SetupRefused
from tests.plant.example import PLANT, SMALLEST, faults, full


def refused(path: Path) -> Fault:
    with pytest.raises(SetupRefused) as refusal:
        read_setup(path)
    (fault,) = refusal.value.faults
    assert fault.file == str(path)
    assert fault.mend
    return fault


def test_a_file_reads_like_its_text(tmp_path: Path) -> None:
    path = tmp_path / "plant.toml"
    path.write_text(PLANT, encoding="utf-8")
    assert read_setup(path) == read_setup(str(path)) == full()


@pytest.mark.parametrize("prefix", [b"\xef\xbb\xbf", b""])
def test_a_byte_order_mark_and_windows_line_ends_are_tolerated(tmp_path: Path, prefix: bytes) -> None:
    path = tmp_path / "plant.toml"
    path.write_bytes(prefix + PLANT.replace("\n", "\r\n").encode())
    assert read_setup(path) == full()


def test_files_that_are_not_there_not_text_or_not_files_are_refused(tmp_path: Path) -> None:
    assert "cannot be read" in refused(tmp_path / "no.toml").what
    assert "cannot be read" in refused(tmp_path).what
    (tmp_path / "latin.toml").write_bytes('[plant]\nname = "Doré"'.encode("latin-1"))
    assert "UTF-8" in refused(tmp_path / "latin.toml").what


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[plant]\nname = \n", 2),
        ('[plant]\nname = "a"\nname = "b"\n', 3),
        ("[plant]\n\nstarts = 2026-13-01\n", 3),
        ('[plant]\nname = "a', 0),
        ("x = " + "[" * 100_000, 0),
        ("x = " + "9" * 5_000, 0),
    ],
)
def test_what_is_not_toml_is_refused_with_its_line(text: str, line: int) -> None:
    (fault,) = faults(text)
    assert (fault.file, fault.line) == ("plant.toml", line)
    assert fault.mend


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ('tolerance = "0.2%"', 'tolerance = "0.2"', "area[2].tolerance"),
        ("warn = 2.5", "warn = nan", "plant.warn"),
        ('composition = "combines"', 'composition = "mixes"', "operation[2].composition"),
        ('loss = {gold = "0.20%"}', 'loss = {gold = "x"}', "rate[1].loss.gold"),
        ('class = "ENDS"\nrecov', 'class = "?"\nrecov', "rate[2].class"),
        ('silver = "45%"', 'silver = "45"', "alloy[2].silver"),
    ],
)
def test_a_fault_lies_on_the_line_of_its_key(old: str, new: str, field: str) -> None:
    text = PLANT.replace(old, new)
    (fault,) = faults(text)
    assert fault.field == field
    assert fault.line == text[: text.index(new)].count("\n") + 1
    assert str(fault).startswith(f"plant.toml:{fault.line}, {field}: ")


LINES = """\
colour = 1
[plant]
name = "x"

[[area]]   # the first
code = "a"
[[ area ]]
"code" = "b"
[[operation]]
code = "o"
[operation.loss]
gold = "1%"
[[scale]]
code = "s"
"""


@pytest.mark.parametrize(
    ("field", "line"),
    [
        ("colour", 1),
        ("plant", 2),
        ("plant.name", 3),
        ("plant.metals", 2),
        ("area[1]", 5),
        ("area[1].code", 6),
        ("area[2].code", 8),
        ("area[2].name", 7),
        ("area[3].code", 0),
        ("operation[1].loss.gold", 11),
        ("operation[1].each.gold", 9),
        ("scale[1].code", 14),
        ("nowhere", 0),
        ("", 0),
    ],
)
def test_the_line_of_a_key_or_of_its_table(field: str, line: int) -> None:
    assert line_of(field, LINES) == line


def test_a_missing_plant_names_the_file_given() -> None:
    with pytest.raises(SetupRefused) as refusal:
        parse_setup("", "works.toml")
    assert str(refusal.value).startswith("works.toml, plant: the plant is not given → ")


def test_a_change_is_read_into_jsons_types(tmp_path: Path) -> None:
    text = 'from = 2026-11-01T00:00:00\nby = "C1"\n[[alloy]]\ncode = "12Y"\ndensity = 13.40\n'
    expected = {"from": "2026-11-01T00:00:00", "by": "C1", "alloy": [{"code": "12Y", "density": "13.40"}]}
    assert parse_change(text) == expected
    (tmp_path / "change.toml").write_text(text, encoding="utf-8")
    assert read_change(tmp_path / "change.toml") == expected
    with pytest.raises(SetupRefused, match="seconds"):
        parse_change("from = 2026-11-01T00:00\n")


def test_the_smallest_file() -> None:
    assert parse_setup(SMALLEST).plant.name == "Invented"
