"""Tables: no figure is ever wrapped or cut, however narrow the page."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from ledger.faces.printing import Table, cells, mass, ng_of
from ledger.quantities.mass import grams_text

FIGURES = st.lists(st.lists(st.integers(0, 10**12).map(str), min_size=5, max_size=5), min_size=1, max_size=6)


@given(FIGURES, st.integers(1, 120))
def test_every_figure_stands_whole_at_any_width(rows: list[list[str]], width: int) -> None:
    table = Table(["a", "b", "c", "d", "e"], rows=[list(row) for row in rows])
    lines = list(table.lines(width))
    printed = sorted(word for line in lines for word in line.split() if word.isdigit())
    blocks = lines.count("") + 1
    assert printed == sorted([cell for row in rows for cell in row] + [row[0] for row in rows] * (blocks - 1))


@given(FIGURES)
def test_lines_keep_to_the_width_where_two_columns_fit(rows: list[list[str]]) -> None:
    assert all(cells(line) <= 30 for line in Table(["a", "b", "c", "d", "e"], rows=[list(r) for r in rows]).lines(30))


def test_figures_stand_to_the_right_and_words_to_the_left() -> None:
    table = Table(["lot", "gross"], rows=[["A", "1.000"], ["BBB", "1,000.000"]])
    assert list(table.lines(80)) == ["lot      gross", "--------------", "A        1.000", "BBB  1,000.000"]


def test_wide_characters_take_two_cells() -> None:
    assert (cells("金"), cells("‰"), cells("e\u0301")) == (2, 1, 1)


def test_columns_that_say_nothing_are_left_out() -> None:
    table = Table(["a", "b", "c"], rows=[["1", "", "x"]], left=frozenset((0, 2))).without_empty_columns()
    assert (table.heads, table.rows, table.left) == (["a", "c"], [["1", "x"]], frozenset((0, 1)))


@given(st.integers(-(10**20), 10**20))
def test_document_masses_come_back_to_the_nanogram(mass_ng: int) -> None:
    assert ng_of(grams_text(mass_ng)) == mass_ng
    assert ng_of(mass(mass_ng, "g", whole=True).replace(",", "")) == mass_ng
