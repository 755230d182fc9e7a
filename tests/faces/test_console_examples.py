"""Every console example of the pages, run in order on a fresh book, prints exactly what the page says."""

from __future__ import annotations

from difflib import unified_diff
from pathlib import Path

import pytest

from tests.faces.console_examples import README, ROOT, constant, elided, folder, matches, pages, read, steps


@pytest.mark.parametrize("page", pages(), ids=lambda page: str(page.relative_to(ROOT)))
def test_console_examples(page: Path) -> None:
    with folder() as place:
        for step in steps(read(page)):
            output = place.do(step)
            if not step.agrees(output):
                told = "\n".join(unified_diff(step.expected, output, "page", "program", lineterm=""))
                pytest.fail(
                    f"{page.name}:{step.first}: $ {step.command}\n{told}\n"
                    "if the program is right: python -m tests.faces.console_examples --rewrite"
                )


def test_the_readme_and_the_tutorial_are_among_them() -> None:
    assert {README, ROOT / "docs" / "tutorial.md"} <= set(pages())


@pytest.mark.parametrize(
    ("expected", "output", "same"),
    [
        (["a", "b"], ["a", "b"], True),
        (["a", "b"], ["a", "c"], False),
        (["a"], ["a", "b"], False),
        (["chain …"], ["chain 0f3a"], True),
        (["chain …"], ["record 4"], False),
        (["a", "…", "d"], ["a", "b", "c", "d"], True),
        (["a", "…", "d"], ["a", "d"], True),
        (["a", "…", "d"], ["a", "b", "c"], False),
        (["1.5"], ["1x5"], False),
    ],
)
def test_an_output_is_compared_exactly_but_for_what_is_left_out(
    expected: list[str], output: list[str], same: bool
) -> None:
    assert matches(expected, output) is same


def test_what_was_left_out_stays_out_when_a_page_is_written_anew() -> None:
    assert elided(["a", "…", "z"], ["a", "b", "c", "y"]) == ["a", "…", "y"]
    assert constant("book as of record 41, chain 3ec2dd62700457df") == "book as of record 41, chain …"
