"""The commands by name. One that is called is read alone: reading all of them would take longer than most answers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib import import_module
from typing import Annotated, Any, Final

import typer

from ledger import __version__

#: In the order of the help. A command is a function that bears the name of its module; a group is its module's ``app``.
NAMES: Final = (
    "new", "setup", "enter", "ticket", "stock", "lot", "position", "exceptions", "estimates", "checks", "reconcile",
    "causes", "trend", "patterns", "names", "unseen", "rates", "pack", "write-off", "close", "verify", "prove", "trace",
    "statement", "audit", "copy-out", "backup", "bench",
)  # fmt: skip
_GROUPS: Final = frozenset(("setup", "audit", "bench"))
_SETTINGS: Final[Mapping[str, dict[str, Any]]] = {"write-off": {"ignore_unknown_options": True}}

_HELP: Final = """
A book of fine metal: tickets go in and are never changed, the month-end statement comes out.

A first month, on the sample plant:

    lemel new sample.lemel --plant sample_books/month/plant.toml

    lemel enter sample_books/month/tickets.jsonl

    lemel reconcile 2026-10

A difference is + where metal is missing. Figures go to standard output, everything else to standard error.

Exit status: 0 done; 2 called wrongly; 3 input refused, nothing recorded; 4 the book is damaged, locked or of a later
version; 5 done, and something needs a person; 1 a crash, which is a bug.
"""


def app_of(names: Iterable[str] = NAMES) -> typer.Typer:
    """Return ``lemel`` with these commands; left out: with all of them."""
    app = typer.Typer(
        name="lemel", help=_HELP, no_args_is_help=True, add_completion=True, rich_markup_mode=None,
        pretty_exceptions_enable=False, context_settings={"help_option_names": ["--help", "-h"],
                                                          "max_content_width": 80},
    )  # fmt: skip
    app.callback(help=_HELP)(lemel)
    for name in names:
        module = import_module(f"ledger.faces.cli.{name.replace('-', '_')}")
        if name in _GROUPS:
            app.add_typer(module.app, name=name)
        else:
            app.command(name, context_settings=_SETTINGS.get(name))(getattr(module, name.replace("-", "_")))
    return app


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"lemel {__version__}")
        raise typer.Exit


def lemel(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_print_version, is_eager=True)
    ] = False,
) -> None:
    """Hold the options that stand before a command."""
