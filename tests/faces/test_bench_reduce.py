"""lemel bench reduce: schedules and the table of gauges."""

from __future__ import annotations

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import Lemel

ROLL = ("bench", "reduce", "roll", "30 mm", "10 mm", "--friction", "0.1", "--rolls", "600 mm")


def test_rolling_by_the_bite(lemel: Lemel) -> None:
    # Published rolling example (read in a copy): at most 3 mm a pass, so 7 passes.
    document = lemel(*ROLL, "--length", "1.2 m", "--json").json
    assert len(document["passes"]) == 7
    assert document["working"][0] == {"step": "bite of the rolls, µ²R: 0.1² × 300.0 mm", "value": "3.000 mm"}
    assert document["passes"][-1]["length"] == "3.600000"


def test_the_page_cautions_and_assumes_no_anneal(lemel: Lemel) -> None:
    done = lemel(*ROLL, "--length", "1.2 m", "--width", "80 mm", "--density", "8.53 g/cm³")
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    page = " ".join(done.out.split())
    for words in ("no total reduction is stated", "common practice", "Pickle is acid", "local codes", "beryllium"):
        assert words in page


def test_where_to_anneal_by_what_is_stated(lemel: Lemel) -> None:
    document = lemel(*ROLL, "--anneal-after", "50%", "--json").json
    assert [one["pass"] for one in document["passes"] if one["anneal_before"]] == [6]


def test_drawing_by_equal_shares(lemel: Lemel) -> None:
    # Published wire-drawing example (read in a copy): 1 m of 5.5 mm drawn to 0.25 mm is 484 m long.
    document = lemel("bench", "reduce", "draw", "5.5 mm", "0.25 mm", "--share", "20%", "--length", "1 m", "--step",
                     "0.001 mm", "--json").json  # fmt: skip
    assert document["passes"][-1]["length"] == "484.000000"
    assert all(float(one["reduction"]) <= 20 for one in document["passes"])


def test_the_table_of_gauges(lemel: Lemel) -> None:
    # ASTM B258 (read in a copy).
    rows = {row["gauge"]: row for row in lemel("bench", "reduce", "gauges", "--json").json["gauges"]}
    assert [rows[n]["in"] for n in ("10", "18", "24", "36")] == ["0.1019", "0.0403", "0.0201", "0.0050"]
    assert rows["10"]["wire"] is None
    assert "g/m of wire" in lemel("bench", "reduce", "gauges", "--density", "8.53 g/cm³").out


@pytest.mark.parametrize(
    ("arguments", "option"),
    [(("bend", "1 mm", "2 mm"), "HOW"), (("roll", "30 mm"), "TO"), (("roll", "30", "1 mm", "--share", "5%"), "FROM"),
     (("roll", "30 mm", "10 mm", "--friction", "0.1"), "--friction"), ((*ROLL[2:5], "--share", "10"), "--share"),
     ((*ROLL[2:], "--friction", "x"), "--friction"), ((*ROLL[2:], "--step", "0"), "--step"),
     ((*ROLL[2:], "--unit", "oz"), "--unit")],
)  # fmt: skip
def test_a_wrong_option_is_named(lemel: Lemel, arguments: tuple[str, ...], option: str) -> None:
    done = lemel("bench", "reduce", *arguments)
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith(f"{option}: ")


def test_no_limit_is_assumed(lemel: Lemel) -> None:
    done = lemel("bench", "reduce", "roll", "30 mm", "10 mm")
    assert (done.status, done.out) == (3, "")
    assert "state --share, or --friction and --rolls" in done.err


@pytest.mark.parametrize("command", ["charge", "layup", "reduce"])
def test_help_teaches_with_an_example(lemel: Lemel, command: str) -> None:
    done = lemel("bench", command, "--help")
    assert (done.status, f"Example:  lemel bench {command}" in done.out) == (0, True)
    assert all(len(line) <= 80 for line in done.out.splitlines())
