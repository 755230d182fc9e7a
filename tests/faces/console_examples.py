"""Console examples of the pages: found, run in order in a folder of their own, compared, and written anew.

In a page, a ``console`` block holds commands (``$ lemel …``; lines led by ``> `` go on) and, below each, what it
prints. A fenced block whose info is a language and a file name (``json late.jsonl``) is that file: it is written into
the folder before later commands run. ``…`` ends a line whose rest may be anything, and alone stands for any lines.
A console block without a ``$`` is told, not run. README's first command is run from its second step on, where the
program is already set up; its output stands between markers.

Print again what has changed:  python -m tests.faces.console_examples --rewrite [PAGE…]
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[2]
README: Final = ROOT / "README.md"
FENCE: Final = re.compile(r"^```(\w*)[ ]?([^\s`]*)\s*$")
BEGIN, END = "<!-- begin: output of the first command -->", "<!-- end: output of the first command -->"

#: What differs from book to book: running hashes and seals, which cover the time of recording, and that time itself.
VOLATILE: Final = (
    (re.compile(r"\b([sS]eal:?) (\S+)( [0-9a-f]{8}){5}-[0-9A-Z]$"), r"\1 \2 …"),
    (re.compile(r'"seal": "\S+( [0-9a-f]{8}){5}-.*'), '"seal": "…'),
    (re.compile(r", recorded \d{4}-.*"), ", recorded …"),
    (re.compile(r"\bchain [0-9a-f]{16,}.*"), "chain …"),
    (re.compile(r'"chain": "[0-9a-f]{16,}.*'), '"chain": "…'),
    (re.compile(r'"(hash|recorded_at|sha256)": ".*'), r'"\1": "…'),
    (re.compile(r"\bSHA-256 [0-9a-f]{64}$"), "SHA-256 …"),
    (re.compile(r"\(recorded \d{4}-.*"), "(recorded …"),
    (re.compile(r"^recorded over two days late: .*"), "recorded over two days late: …"),
    (re.compile(r",\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00$"), ",…"),
)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do: run a command, or write a file (then ``command`` is empty); lines are of the page, from 0."""

    command: str
    expected: tuple[str, ...]
    first: int
    end: int
    file: str = ""

    def agrees(self, output: Sequence[str]) -> bool:
        """Return whether an output is what the page says."""
        return matches(self.expected, output)


def pages() -> list[Path]:
    """Return the pages that have something to run."""
    found = [README, *sorted((ROOT / "docs").glob("**/*.md")), *sorted((ROOT / "sample_books").glob("**/*.md"))]
    return [page for page in found if any(step.command for step in steps(read(page)))]


def read(page: Path) -> list[str]:
    """Return a page's lines."""
    return page.read_text(encoding="utf-8").splitlines()


def steps(lines: Sequence[str]) -> Iterator[Step]:
    """Yield what a page does, in its order."""
    yield from _first_command(lines)
    for info, name, first, end in blocks(lines):
        if name:
            yield Step("", tuple(lines[first:end]), first, end, name)
        elif info == "console":
            yield from _commands(lines, first, end)


def blocks(lines: Sequence[str]) -> Iterator[tuple[str, str, int, int]]:
    """Yield language, file name, first line and end of each fenced block."""
    inside: tuple[str, str, int] | None = None
    for i, line in enumerate(lines):
        fence = FENCE.match(line)
        if fence and inside:
            yield (*inside, i)
            inside = None
        elif fence:
            inside = (fence[1], fence[2], i + 1)


def _commands(lines: Sequence[str], first: int, end: int) -> Iterator[Step]:
    starts = [i for i in range(first, end) if lines[i].startswith("$ ")]
    for start, stop in pairwise([*starts, end]):
        output = start + 1
        while output < stop and lines[output].startswith("> "):
            output += 1
        command = "\n".join(line[2:] for line in lines[start:output])
        yield Step(command, tuple(lines[output:stop]), output, stop)


def _first_command(lines: Sequence[str]) -> Iterator[Step]:
    """Yield README's first command, from where the program is set up, with the text block between its markers."""
    if BEGIN not in lines:
        return
    told = next(line for line in lines if line.startswith("python3 -m venv"))
    command = told.partition("install --quiet . && ")[2].replace(".venv/bin/lemel", "lemel")
    first = lines.index(BEGIN) + 2
    end = lines.index(END) - 1
    yield Step(command, tuple(lines[first:end]), first, end)


def matches(expected: Sequence[str], output: Sequence[str]) -> bool:
    """Return whether an output is as expected, ``…`` standing for the rest of a line or for any lines."""
    pattern = "".join("(?:.*\n)*?" if line == "…" else _line(line) + "\n" for line in expected)
    return re.fullmatch(pattern, "".join(line + "\n" for line in output)) is not None


def _line(line: str) -> str:
    return re.escape(line[:-1]) + ".*" if line.endswith("…") else re.escape(line)


@contextmanager
def folder() -> Iterator[Folder]:
    """Give a folder with the sample books and a `lemel` on the path."""
    with tempfile.TemporaryDirectory(prefix="lemel-") as name:
        yield Folder(Path(name))


class Folder:
    """A folder in which a reader follows a page."""

    def __init__(self, path: Path) -> None:
        self.path = path / "reader"
        self.status = 0
        shutil.copytree(ROOT / "sample_books", self.path / "sample_books")
        program = path / "bin" / "lemel"
        program.parent.mkdir()
        program.write_text(f"#!/bin/sh\nexec '{sys.executable}' -c "
                           "'from ledger.faces.cli.main import run; run()' \"$@\"\n", encoding="utf-8")  # fmt: skip
        program.chmod(0o755)
        kept = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LEMEL_DEBUG", "FORCE_COLOR")}
        self.environment = {
            **kept, "PATH": f"{program.parent}{os.pathsep}{os.environ['PATH']}", "PYTHONPATH": str(ROOT),
            "PYTHONUNBUFFERED": "1", "LOGNAME": "controller", "LC_ALL": "C.UTF-8",
        }  # fmt: skip

    def do(self, step: Step) -> list[str]:
        """Run a step and return the lines it prints, standard error among them as on a terminal."""
        if step.file:
            (self.path / step.file).write_text("\n".join(step.expected) + "\n", encoding="utf-8")
            return list(step.expected)
        done = subprocess.run(
            ["sh", "-c", f"(exit {self.status})\n{step.command}"], cwd=self.path, env=self.environment, check=False,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, encoding="utf-8",
        )  # fmt: skip
        self.status = done.returncode
        return done.stdout.splitlines()


def rewritten(lines: Sequence[str]) -> list[str]:
    """Return a page with every output that no longer agrees as it is now."""
    fresh = list(lines)
    moved = 0
    with folder() as place:
        for step in steps(lines):
            output = place.do(step)
            if not step.agrees(output):
                new = elided(step.expected, [constant(line) for line in output])
                fresh[step.first + moved : step.end + moved] = new
                moved += len(new) - (step.end - step.first)
    return fresh


def constant(line: str) -> str:
    """Return a line of output without what differs from book to book."""
    for pattern, instead in VOLATILE:
        line = pattern.sub(instead, line)
    return line


def elided(before: Sequence[str], output: list[str]) -> list[str]:
    """Return an output with the middle left out where one ``…`` line left it out before."""
    if list(before).count("…") != 1:
        return output
    head = list(before).index("…")
    tail = len(before) - head - 1
    return [*output[:head], "…", *output[len(output) - tail :]] if len(output) > head + tail else output


def main(arguments: Sequence[str]) -> int:
    """Write anew the pages named, or all of them."""
    if not arguments or arguments[0] != "--rewrite":
        print(__doc__)
        return 2
    for page in [Path(name).resolve() for name in arguments[1:]] or pages():
        lines = read(page)
        fresh = rewritten(lines)
        page.write_text("\n".join(fresh) + "\n", encoding="utf-8")
        print(f"{page.relative_to(ROOT)}: {'changed' if fresh != lines else 'as it was'}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
