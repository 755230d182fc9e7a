"""Out-turns as JSON that were made to do harm, or by a careless program: refused in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.bench.settle_file import read_file
from ledger.bench.settle_reading import out_turn_from
from ledger.refusals import FormRefused

HARMFUL = {
    "objects in objects": ('{"a":' * 900 + "1" + "}" * 900, "nested too deep"),
    "lists without end": ("[" * 100_000, "nested too deep"),
    "a number of ten thousand digits": ('{"a": ' + "9" * 10_000 + "}", "a whole number is too large"),
    "a number beyond 64 bits": ('{"a": 9223372036854775808}', "a whole number is too large"),
    "an exponent beyond all bounds": ('{"a": 1e99999999999999999999}', "beyond all bounds"),
    "no number": ('{"party": NaN}', "NaN is not a number"),
    "infinity": ('{"party": -Infinity}', "-Infinity is not a number"),
    "a key twice": ('{"party": "A", "party": "B"}', "'party' stands twice"),
    "no object": ("[]", "not an object"),
    "UTF-16": ('{"party": "A"}', "not in UTF-8"),
    "twenty thousand lots": (
        '{"lot": [' + ",".join(f'{{"lot": "L{n}"}}' for n in range(20_000)) + "]}", "received is not given"),
}  # fmt: skip


@pytest.mark.parametrize("case", HARMFUL)
def test_an_out_turn_made_to_do_harm_is_refused_in_words(case: str, tmp_path: Path) -> None:
    text, words = HARMFUL[case]
    path = tmp_path / "out-turn.json"
    path.write_text(text, encoding="utf-16" if case == "UTF-16" else "utf-8")
    with pytest.raises(FormRefused) as refused:
        read_file(path, out_turn_from)
    assert words in str(refused.value)
    assert len(refused.value.faults) <= 100
