"""lemel bench strip: flags in, fineness, σ and bias out."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faces.conftest import Lemel

ONE = ("bench", "strip", "--sample", "2.5000 g", "--residue", "0.1262 g")


def test_figures(lemel: Lemel) -> None:
    done = lemel(*ONE, "--assay", "512‰", "--mark", "1/20 12K", "--mass", "100.0 g", "--json")
    document = done.json
    assert (done.status, document["fineness"], document["above_mark"]) == (0, "25.845760", "0.845760")
    assert (document["content"], document["basis"], document["rests_on"]) == ("2.584576000", "measured", "residue")
    assert document["results"] == [["25.845760‰"]]
    assert document["sigma"] is None


def test_scale_and_method_of_the_book_make_sigma(lemel: Lemel, month: Path) -> None:
    """S-LAB: d = s = 0.1 mg; FIRE: 0.15, 0.10, 0.05 ‰ of the residue: by the root of squares, in ‰ of the article."""
    with_both = lemel(*ONE, "--assay", "512‰", "--scale", "S-LAB", "--method", "FIRE", "--book", month, "--json").json
    u = (1 + 1 / 12) ** 0.5 * 1e-4
    f, share = 0.02584576, 0.1262 / 2.5
    expected = ((f / 0.1262 * u) ** 2 + (f / 2.5 * u) ** 2 + share**2 * (0.15**2 + 0.1**2 + 0.05**2) * 1e-6) ** 0.5
    assert with_both["sigma"] == pytest.approx(1000 * expected, rel=1e-6)


def test_the_page_says_the_bias_and_the_caution(lemel: Lemel) -> None:
    text = " ".join(lemel(*ONE, "--layer", "12K", "--mark", "1/20 12K").out.split())
    for words in ("estimated", "copper and silver out of a low-karat layer", "bond left on it", "Nitric acid",
                  "beryllium", "licensed practice", "no legal advice"):  # fmt: skip
        assert words in text


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (ONE, "nothing says what the residue holds"),
        ((*ONE, "--bead", "0.1 g"), "by its residue, or by its bead"),
        ((*ONE, "--sample", "2.0 g"), "2 samples, and 1 times --residue"),
        ((*ONE, "--assay", "12"), "bare number is per mille"),
        ((*ONE, "--assay", "512‰", "--mark", "12K"), "not a clad mark"),
        ((*ONE, "--assay", "512‰", "--scale", "S", "--division", "0.1 g"), "given twice"),
        (("bench", "strip", "--sample", "2.5 oz", "--bead", "0.1 g"), "ambiguous"),
        (("bench", "strip", "--sample", "0.1 g", "--bead", "0.1 g"), "as much as the sample"),
    ],
)
def test_what_is_wrong_is_said(lemel: Lemel, arguments: tuple[str, ...], words: str) -> None:
    done = lemel(*arguments)
    assert (done.status, done.out) == (2, "")
    assert words in done.err
    assert "→" in done.err


def test_a_scale_that_the_set_up_does_not_have(lemel: Lemel, month: Path) -> None:
    done = lemel(*ONE, "--assay", "512‰", "--scale", "NO", "--book", month)
    assert done.status == 2
    assert "S-LAB" in done.err
