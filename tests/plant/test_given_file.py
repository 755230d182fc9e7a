"""Files that a person gives by mistake, or to do harm: refused in words, and soon."""

from __future__ import annotations

import os
from pathlib import Path
from time import thread_time

import pytest

from ledger.plant.faults import MOST_FAULTS
from ledger.plant.given_file import DEEPEST, LARGEST_TEXT, once_each, open_file, refuse_boundless, text_of
from ledger.plant.toml_file import parse_change, parse_setup, read_setup
from ledger.refusals import FormRefused, SetupRefused
from tests.book.plants import PLANT

PLANT_LINES = '[plant]\nname = "x"\nmetals = ["gold"]\n'

#: Found by the study of bad input, or by thinking of it first: what was given, and what is said.
HARMFUL: dict[str, tuple[str, str]] = {
    "a key of two thousand parts": ("a" + ".a" * 2_000 + " = 1", "nested too deep"),
    "a key of a hundred thousand parts": ("a" + ".a" * 100_000 + " = 1", "nested too deep"),
    "a header of two thousand parts": ("[a" + ".a" * 2_000 + "]", "nested too deep"),
    "a quoted key of many parts": ('"a"' + '. "a"' * 2_000 + " = 1", "nested too deep"),
    "lists in lists": ("a = " + "[" * 300 + "]" * 300, "nested too deep"),
    "lists without end": ("a = " + "[" * 100_000, "nested too deep"),
    "tables in tables": ("a = " + "{a = " * 5_000 + "1" + "}" * 5_000, "nested too deep"),
    "a number of a hundred thousand digits": ("a = " + "9" * 100_000, "a whole number is too large"),
    "a hexadecimal number beyond 64 bits": ("[[area]]\ncode = 0x" + "f" * 5_000, "a whole number is too large"),
    "an exponent beyond all bounds": ("a = 1e99999999999999999999", "a number is beyond all bounds"),
    "not a number": (PLANT_LINES + "warn = nan", "'NaN' is not a number above zero"),
    "fifty thousand tables": ("".join(f"[a{n}]\n" for n in range(50_000)), "nobody knows the table 'a0'"),
    "fifty thousand keys": (PLANT_LINES + "".join(f"a{n} = 1\n" for n in range(50_000)), "nobody knows the key 'a0'"),
    "fifty thousand entries": (PLANT_LINES + "[[area]]\nkode = 1\n" * 50_000, "nobody knows the key 'kode'"),
    "a key of a million characters": ("x" * 900_000 + " = 1", "nobody knows the table 'xxx"),
    "a header in a text, with blanks": (PLANT_LINES + 'a = """\n[' + " " * 200_000 + 'x"""', "nobody knows the key"),
    "more than a million bytes": ("#" * (LARGEST_TEXT + 1), "larger than 1,000,000 bytes"),
}  # fmt: skip


@pytest.mark.parametrize("case", HARMFUL)
def test_a_set_up_made_to_do_harm_is_refused_soon_and_in_words(case: str, tmp_path: Path) -> None:
    text, words = HARMFUL[case]
    path = tmp_path / "plant.toml"
    path.write_text(text, encoding="utf-8")
    start = thread_time()
    with pytest.raises(SetupRefused) as refused:
        read_setup(path)
    assert thread_time() - start < 5
    assert any(words in fault.what for fault in refused.value.faults), str(refused.value)[:500]
    assert len(refused.value.faults) <= MOST_FAULTS + 1


def test_a_large_plant_is_read_soon() -> None:
    start = thread_time()
    setup = parse_setup(PLANT + "".join(f'[[area]]\ncode = "A{n}"\nkeeper = "W"\n' for n in range(5_000)))
    assert (len(setup.area), thread_time() - start < 5) == (5_005, True)


def test_as_deep_as_allowed_is_allowed() -> None:
    deep: object = 1
    for _ in range(DEEPEST):
        deep = {"a": deep}
    refuse_boundless(deep, FormRefused)
    with pytest.raises(FormRefused, match="nested too deep"):
        refuse_boundless([deep], FormRefused)
    refuse_boundless([2**63 - 1, True], FormRefused)
    with pytest.raises(FormRefused, match="too large"):
        refuse_boundless([2**63], FormRefused)


def test_points_in_a_text_are_no_key_of_many_parts() -> None:
    assert parse_change(f'reason = "{"x. " * 200}"')["reason"] == "x. " * 200


def test_pipes_and_devices_are_no_files(tmp_path: Path) -> None:
    (tmp_path / "device").symlink_to("/dev/zero")
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "device", tmp_path / "pipe"):
        with pytest.raises(OSError, match="pipe or a device"):
            open_file(path)
        with pytest.raises(FormRefused, match="pipe or a device"):
            text_of(path, FormRefused)


def test_a_key_twice_is_named() -> None:
    assert once_each([("a", 1), ("b", 2)]) == {"a": 1, "b": 2}
    with pytest.raises(ValueError, match="'b' stands twice"):
        once_each([("a", 1), ("b", 2), ("b", 3)])
