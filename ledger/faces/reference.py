"""The reference of the commands, written from the commands themselves: ``python -m ledger.faces.reference``."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator
from typing import Any, Final

import typer

from ledger.faces.cli.commands import app_of

_HEAD: Final = """\
# The commands

Written from the commands by `python -m ledger.faces.reference`; a test keeps it so. `lemel COMMAND --help` says the
same at the bench. What `--json` prints is in [json.md](json.md), every refusal in [refusals.md](refusals.md).

People's figures and JSON go to standard output, everything else to standard error; tables fit eighty columns, or go on
in a further block of columns, and no figure is ever cut. In JSON masses are grams with all nine digits, as text,
whatever `--unit` says.

| exit status | means |
|---|---|
| 0 | done |
| 2 | called wrongly |
| 3 | input refused, nothing recorded |
| 4 | the book is damaged, locked, or of a later version |
| 5 | done, and something needs a person |
| 1 | a crash, and a bug; `LEMEL_DEBUG=1` prints where |

130 and 141 are the shell's own: interrupted, and nobody reads on.
"""

BAR: Final = r"\|"
_EXAMPLE: Final = re.compile(r"Example:\s+(.+)")


def commands_reference() -> str:
    """Return the page: each command with its help, arguments and options, in the order of `lemel --help`."""
    parts = [_HEAD]
    for name, command in _commands(typer.main.get_command(app_of()), "lemel"):
        parts.append("\n".join([f"## {name}", "", *_help(command.help or ""), *_parameters(command.params)]))
    return "\n".join(parts)


def _commands(group: Any, name: str) -> Iterator[tuple[str, Any]]:
    for key, command in group.commands.items():
        if hasattr(command, "commands"):
            yield from _commands(command, f"{name} {key}")
        else:
            yield f"{name} {key}", command


def _help(text: str) -> Iterator[str]:
    """Yield the help as paragraphs, its examples together as one block."""
    paragraphs = [" ".join(paragraph.split()) for paragraph in text.split("\n\n")]
    examples = [match.group(1) for paragraph in paragraphs if (match := _EXAMPLE.fullmatch(paragraph))]
    for paragraph in paragraphs:
        if not _EXAMPLE.fullmatch(paragraph):
            yield from (*textwrap.wrap(paragraph, 120, break_long_words=False, break_on_hyphens=False), "")
    yield from ("```sh", *examples, "```", "")


def _parameters(parameters: Iterable[Any]) -> Iterator[str]:
    yield from ("| argument, option | means |", "|---|---|")
    for parameter in parameters:
        name = parameter.metavar if parameter.param_type_name == "argument" else _option(parameter)
        default = f" Default: {parameter.default}." if isinstance(parameter.default, str) else ""
        yield f"| `{name.replace('|', BAR)}` | {parameter.help}{default} |"
    yield ""


def _option(parameter: Any) -> str:
    return " ".join((*parameter.opts, *([parameter.metavar] if parameter.metavar else [])))


if __name__ == "__main__":
    print(commands_reference(), end="")
