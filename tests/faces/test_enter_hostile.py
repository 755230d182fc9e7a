"""lemel enter, with files that were made to do harm: refused in words, with status 3, in seconds, in little memory."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.book.intake.workbooks import FIRST, HEAD, SHEET, STYLES, TEXTS, changed, inline, sheet, texts, written

#: What a file may cost before it is refused: processor seconds, and resident memory.
SECONDS, BYTES = 5, 300_000_000

#: Runs the command in a process of its own, and says what it took. VmHWM is the peak since this program began; the one
#: that the operating system keeps for a process would be that of the tests which started it.
_MEASURED = """
import json, re, resource, sys
from pathlib import Path
from ledger.faces.cli.main import main
status = main(sys.argv[1:])
used = resource.getrusage(resource.RUSAGE_SELF)
peak = int(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text()).group(1)) * 1024
print(json.dumps({"status": status, "seconds": used.ru_utime + used.ru_stime, "bytes": peak}))
"""
_LAUGHS = b'<!DOCTYPE x [<!ENTITY a "ha">' + b"".join(
    b'<!ENTITY %c "%s">' % (98 + i, b"&%c;" % (97 + i) * 10) for i in range(9)
) + b"]>"  # fmt: skip


def _with(name: str, text: Callable[[], bytes]) -> Callable[[], bytes]:
    return lambda: changed(written(HEAD, FIRST), {name: text()})


def _table(row: str) -> Callable[[], bytes]:
    return lambda: f"{','.join(HEAD)}\n{row}\n".encode()


def _cells(mass: str) -> str:
    return ",".join(mass if name == "mass" else cell for name, cell in zip(HEAD, FIRST, strict=True))


FILES: dict[str, tuple[str, Callable[[], bytes], str]] = {
    "unpacks to gigabytes": (
        "t.xlsx", _with(SHEET, lambda: b" " * 300_000_000), "100,000,000 are read at most"),
    "unpacks to blanks": (
        "t.xlsx", _with("xl/worksheets/sheet1.xml", lambda: sheet(b" " * 90_000_000)), "there is no column ticket"),
    "cells without end": ("t.xlsx", _with(SHEET, lambda: sheet(b"<row>" + b"<c/>" * 2_500_000)), "elements"),
    "rows without end": ("t.xlsx", _with(SHEET, lambda: sheet(b"<row/>" * 2_500_000)), "elements"),
    "tags without end": ("t.xlsx", _with(SHEET, lambda: sheet(b"<a>" * 1_000_000)), "tags without end"),
    "a cell far to the right in every row": (
        "t.xlsx", _with(SHEET, lambda: sheet(b"".join(b'<row><c r="XFD%d"><v>1</v></c></row>' % n
                                                      for n in range(1, 190_000)))), "beyond its first 1,000 columns"),
    "a cell far down": (
        "t.xlsx", _with(SHEET, lambda: sheet(b'<row r="1048576"><c><v>1</v></c></row>')), "more than 200,000 rows"),
    "shared texts without end": ("t.xlsx", _with(TEXTS, lambda: texts(b"<si><t>a</t></si>" * 1_200_000)), "elements"),
    "a text without end": (
        "t.xlsx", _with(TEXTS, lambda: texts(b"<si><t>" + b"a" * 90_000_000 + b"</t></si>")), "32,767 characters"),
    "one long text in every cell": (
        "t.xlsx", lambda: changed(written(HEAD, FIRST), {
            TEXTS: texts(b"<si><t>" + b"a" * 32_767 + b"</t></si>"),
            SHEET: sheet(inline(*HEAD) + (b"<row>" + b'<c t="s"><v>0</v></c>' * 9 + b"</row>") * 60_000)}),
        "more than 20,000,000 characters"),
    "styles without end": ("t.xlsx", _with(STYLES, lambda: b"<x>" + b"<xf a='1'/>" * 2_200_000 + b"</x>"), "elements"),
    "sheets without end": (
        "t.xlsx", _with("xl/workbook.xml", lambda: b"<x>" + b"<sheet name='a'/>" * 500_000), "more than 5,000 sheets"),
    "entities of entities": (
        "t.xlsx", _with(SHEET, lambda: _LAUGHS + sheet(inline("&j;"))), "a document type, which no workbook has"),
    "numbers in every cell": (
        "t.xlsx", _with(SHEET, lambda: sheet(inline(*HEAD) + (b"<row>" + b"<c><v>1</v></c>" * 4 + b"</row>") * 90_000)),
        "more than 10,000 lines do not read, the first t.xlsx:2, ticket: is a number"),
    "one ticket without end": (
        "t.xlsx", _with(SHEET, lambda: sheet(inline(*HEAD) + inline("M-1") * 190_000)), "more than 20,000 rows"),
    "a number of a million digits": (
        "t.xlsx", _with(SHEET, lambda: sheet(inline(*HEAD) + b"<row><c><v>" + b"9" * 1_000_000 + b"</v></c></row>")),
        "32,767 characters"),
    "a number beyond all numbers": (
        "t.xlsx", _with(SHEET, lambda: sheet(inline(*HEAD) + b"<row><c><v>1e999999</v></c></row>")),
        "is a number, not text"),
    "a text of a number beyond all numbers": (
        "t.xlsx", lambda: written(HEAD, (*FIRST[:7], "1e999999 g", "S1")), "'1e999999 g' is not a mass"),
    "a formula": (
        "t.xlsx", _with(SHEET, lambda: sheet(inline(*HEAD) + b"<row><c><f>1+1</f><v>2</v></c></row>")), "is a formula"),
    "digits in CSV": ("t.csv", _table(_cells("9" * 1_000_000 + " g")), "field larger than field limit"),
    "fewer digits in CSV": ("t.csv", _table(_cells("9" * 100_000 + " g")), "is not a mass"),
    "an exponent in CSV": ("t.csv", _table(_cells("1e999999 g")), "'1e999999 g' is not a mass"),
    "a formula in CSV": ("t.csv", _table(_cells("=1+1")), "'=1+1' is not a mass"),
    "a header without end": ("t.csv", lambda: b"a" * 30_000_000, "the header does not read"),
    "a quote that is not closed": ("t.csv", _table('"' + "a\n" * 1_000_000), "more than 20,000 rows"),
    "lines that are no tickets": ("t.jsonl", lambda: b"x\n" * 1_000_000, "more than 10,000 lines do not read"),
    "digits in JSON": ("t.jsonl", lambda: b'{"ticket": "M-1", "pieces": ' + b"9" * 900_000 + b"}", "is too large"),
    "an exponent in JSON": (
        "t.jsonl", lambda: b'{"ticket": "M-1", "pieces": 1e999999}', "a bare number with a fraction"),
}  # fmt: skip


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is measured as Linux tells it")
@pytest.mark.parametrize("case", FILES)
def test_a_file_made_to_do_harm_is_refused_soon_and_in_words(case: str, empty: Path, tmp_path: Path) -> None:
    name, content, words = FILES[case]
    (tmp_path / name).write_bytes(content())
    done = subprocess.run([sys.executable, "-c", _MEASURED, "enter", name, "--book", str(empty)], cwd=tmp_path,
                          capture_output=True, text=True, encoding="utf-8", check=False,
                          env={"PYTHONPATH": str(Path(__file__).parents[2])})  # fmt: skip
    assert words in done.stderr, done.stderr[:2000]
    assert "Traceback" not in done.stderr
    assert "nothing was recorded" in done.stderr
    assert len(done.stderr) < 5_000
    took = json.loads(done.stdout)
    assert took["status"] == 3
    assert took["seconds"] < SECONDS
    assert took["bytes"] < BYTES
