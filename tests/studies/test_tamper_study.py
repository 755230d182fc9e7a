"""The tamper study as a test: all of it with `-m study`, and a short form every time."""

from __future__ import annotations

from random import Random

import pytest

from tests.studies import tamper
from tests.studies.tampering import every_change


@pytest.mark.study
def test_tamper() -> None:
    found = tamper.run()
    assert found.made >= 5_000
    assert found.missed == []
    assert found.rewritten == found.sound == found.caught == tamper.REWRITTEN


def test_tamper_in_short() -> None:
    """A hundred changes of all sorts, drawn from those of the study, and two books rewritten wholly."""
    book = tamper.sealed_book()
    changes = every_change(book, rows=2, values=1, bits=20, seed=tamper.SEED)
    found = tamper.tried(book, Random(tamper.SEED).sample(changes, 100), processes=1)
    assert found.missed == []
    assert found.made == 100
    assert len(found.sorts) >= 8
    tamper.rewrite(book, found, 2, tamper.SEED)
    assert (found.rewritten, found.sound, found.caught) == (2, 2, 2)


def test_what_the_study_calls_an_answer_does_change() -> None:
    """A study that asked nothing would call every change without effect: here one value, told by nobody else."""
    book = tamper.sealed_book()
    with tamper.opened(book) as connection:
        right = tamper.answers(connection)
        connection.execute("UPDATE standing SET amounts = replace(amounts, '1', '2')")
        assert tamper.answers(connection) != right
