"""The study of bad input as a test: all of it with `-m study`, and some thousands of tries every time."""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path
from random import Random

import pytest

from ledger.book.tickets.examples import EXAMPLES
from ledger.faces.cli.main import main
from tests.studies import bad_input
from tests.studies.bad_input import Found, damaged, guided, share, tried
from tests.studies.bad_sandbox import Sandbox, Wrong, not_for_ever
from tests.studies.bad_targets import Target, Targets
from tests.studies.evaluation_page import write_section

if not hasattr(os, "mkfifo"):
    pytest.skip("pipes and devices stand in the sandbox", allow_module_level=True)

TRIES = 4_000
#: Of the dear targets, more than their share.
AT_LEAST = 60


@pytest.fixture(scope="module")
def targets(tmp_path_factory: pytest.TempPathFactory) -> list[Target]:
    return Targets(Sandbox(tmp_path_factory.mktemp("bad"))).all()


@pytest.mark.study
def test_bad_input() -> None:
    found = bad_input.run()
    write_section("bad-input", bad_input.section(found, bad_input.words()))
    assert [fault for one in found for fault in one.faults] == []
    assert sum(one.tries for one in found) >= 1_000_000


def test_bad_input_in_short(targets: list[Target]) -> None:
    with bad_input.ParsedOnce():
        found = [damaged(one, max(AT_LEAST, share(one, TRIES)), bad_input.SEED) for one in targets]
    assert [fault for one in found for fault in one.faults] == []
    assert sum(one.tries for one in found) >= TRIES
    for name in ("texts", "jsonl", "csv", "xlsx", "set-up", "out-turn", "commands", "book"):
        assert 0 < next(one.taken for one in found if one.target == name) < next(
            one.tries for one in found if one.target == name)  # fmt: skip


def test_the_shares_make_a_million(targets: list[Target]) -> None:
    assert sum(one.of_a_million for one in targets) == 1_000_000


@pytest.mark.skipif(find_spec("atheris") is None, reason="the fuzzer is optional: pip install '.[fuzz]'")
def test_the_fuzzer_leads_where_it_is_installed(tmp_path: Path) -> None:
    found = guided("csv", 300, 1, tmp_path)
    assert (found.tries, found.faults) == (300, [])


# ---- a study that saw nothing would find nothing ----------------------------------------------------------------


def test_the_study_sees_a_crash_and_a_hang(targets: list[Target]) -> None:
    def breaks(_: bytes) -> bool:
        raise KeyError("x")

    def hangs(_: bytes) -> bool:
        with not_for_ever(1):
            while True:
                pass

    found = Found("x")
    for attempt in (breaks, hangs):
        tried(Target("x", "", attempt, lambda _: b"", 1), b"", found)
    assert ["KeyError" in found.faults[0], "Hung" in found.faults[1]] == [True, True]


def test_the_sandbox_sees_what_is_changed_and_left_behind(tmp_path: Path) -> None:
    box = Sandbox(tmp_path)
    box.unharmed(2)
    (box.folder.parent / "stray").touch()
    with pytest.raises(Wrong, match="left behind"):
        box.unharmed(2, ["out/stray"])
    (box.folder / "tickets.csv").write_text("")
    with pytest.raises(Wrong, match="written over"):
        box.unharmed(2)
    with box.inside():
        status = main(["ticket", "void", "--by", "MQ", "--set", "numbers=HC-0050", "--reason", "torn", "--at",
                       "2026-11-02T09:00", "--book", "month.lemel"])  # fmt: skip
    assert status == 0
    with pytest.raises(Wrong, match="changed, with status 3"):
        box.unharmed(3)


def test_what_is_drawn_is_the_same_for_a_seed(targets: list[Target]) -> None:
    for one in targets:
        assert one.draw(Random(5)) == one.draw(Random(5))
    assert len(EXAMPLES) > 10
