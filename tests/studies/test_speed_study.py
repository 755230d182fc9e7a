"""The table of speeds, its rows measured on tiny books: nothing is said of the marks, and nothing is written."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.studies import evaluation_page, speed, speed_books
from tests.studies.fresh_processes import Took
from tests.studies.speed import Row, Sizes

if not hasattr(os, "posix_spawn"):
    pytest.skip("commands are started as POSIX processes", allow_module_level=True)

TINY = Sizes(300, 600, (1,), 3, 1, 1)


def test_every_row_is_measured(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = evaluation_page.PAGE.read_bytes()
    rows = speed.run(TINY, tmp_path, write=False)
    told = [row.what for row in rows]
    for what in (
        "enter 300", "peak memory, 600", "one ticket", "`stock`, 600", "`position`, 600", "`lot`, 600", "`reconcile`",
        "`causes`", "`verify --quick`, 600", "`verify`, 300", "`trace` through 300 lots",
    ):  # fmt: skip
        assert sum(one.startswith(what) for one in told) == 1, what
    assert all(row.clock > 0 and row.mark > 0 for row in rows)
    printed = capsys.readouterr().out
    assert all(f"| {row.what} |" in printed for row in rows)
    assert evaluation_page.PAGE.read_bytes() == page
    again = speed_books.entered(tmp_path, 600)
    assert again.took.peak * 2**20 / 1e6 == next(row.clock for row in rows if row.what.startswith("peak memory, 600"))


def test_a_row_is_judged_by_the_clock_and_says_where_only_the_processor_meets_the_mark() -> None:
    judged = {figures: Row("x", *figures, "s", 2.0).judged for figures in ((2.0, 1.0), (2.1, 2.0), (3.0, 2.5))}
    assert list(judged.values()) == ["met", "met by the processor's seconds alone", "not met: 1.50 × the mark"]
    assert Row("x", 2.5, None, "s", 2.0).judged == "not met: 1.25 × the mark"
    assert speed._ratio("x", Took(3, 1), Took(2, 4), 1.0)[1:3] == (1.5, 0.25)


def test_a_section_of_speed_comes_first_and_stays_where_it_is(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    for name, text in (("one", "1"), ("two", "2")):
        evaluation_page.write_section(name, text, page)
    for text in ("fast", "faster"):
        evaluation_page.write_section("speed", text, page, first=True)
    names = [line for line in page.read_text(encoding="utf-8").splitlines() if line.startswith("<!-- begin")]
    assert names == [f"<!-- begin: {name} -->" for name in ("speed", "one", "two")]
    assert "faster" in page.read_text(encoding="utf-8")
