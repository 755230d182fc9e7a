"""``lemel``: the commands, and what is said and returned when something goes wrong."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import Annotated, Final

import typer

from ledger import __version__
from ledger.faces.cli import (
    audit,
    backup,
    bench,
    causes,
    checks,
    close,
    copy_out,
    enter,
    estimates,
    exceptions,
    lot,
    names,
    new,
    pack,
    patterns,
    position,
    prove,
    rates,
    reconcile,
    setup,
    statement,
    stock,
    ticket,
    trace,
    trend,
    unseen,
    verify,
    write_off,
)
from ledger.faces.printing import counted, one_line
from ledger.refusals import LemelError, WrongUsage

#: The shell's own numbers for a command that was interrupted, and for one whose reader went away.
INTERRUPTED: Final = 130
READER_GONE: Final = 141
CRASHED: Final = 1

_INTERRUPTED_WORDS: Final = "interrupted"

_HELP = """
A book of fine metal: tickets go in and are never changed, the month-end statement comes out.

A first month, on the sample plant:

    lemel new sample.lemel --plant sample_books/month/plant.toml

    lemel enter sample_books/month/tickets.jsonl

    lemel reconcile 2026-10

A difference is + where metal is missing. Figures go to standard output, everything else to standard error.

Exit status: 0 done; 2 called wrongly; 3 input refused, nothing recorded; 4 the book is damaged, locked or of a later
version; 5 done, and something needs a person; 1 a crash, which is a bug.
"""

app = typer.Typer(
    name="lemel",
    help=_HELP,
    no_args_is_help=True,
    add_completion=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"], "max_content_width": 80},
)


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"lemel {__version__}")
        raise typer.Exit


@app.callback(help=_HELP)
def lemel(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_print_version, is_eager=True)
    ] = False,
) -> None:
    """Hold the options that stand before a command."""


app.command("new")(new.new)
app.add_typer(setup.app, name="setup")
app.command("enter")(enter.enter)
app.command("ticket")(ticket.ticket)
app.command("stock")(stock.stock)
app.command("lot")(lot.lot)
app.command("position")(position.position)
app.command("exceptions")(exceptions.exceptions)
app.command("estimates")(estimates.estimates)
app.command("checks")(checks.checks)
app.command("reconcile")(reconcile.reconcile)
app.command("causes")(causes.causes)
app.command("trend")(trend.trend)
app.command("patterns")(patterns.patterns)
app.command("names")(names.names)
app.command("unseen")(unseen.unseen)
app.command("rates")(rates.rates)
app.command("pack")(pack.pack)
app.command("write-off", context_settings={"ignore_unknown_options": True})(write_off.write_off)
app.command("close")(close.close)
app.command("verify")(verify.verify)
app.command("prove")(prove.prove)
app.command("trace")(trace.trace)
app.command("statement")(statement.statement)
app.add_typer(audit.app, name="audit")
app.command("copy-out")(copy_out.copy_out)
app.command("backup")(backup.backup)
app.add_typer(bench.app, name="bench")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; everything that goes wrong is said in words."""
    try:
        _refuse_strange(sys.argv[1:] if arguments is None else arguments)
        status = app(args=None if arguments is None else list(arguments), prog_name="lemel", standalone_mode=False)
        sys.stdout.flush()
    except BaseException as error:
        return _told(error)
    if status == INTERRUPTED:
        _complain(_INTERRUPTED_WORDS)
    return status if isinstance(status, int) else 0


def _refuse_strange(arguments: Sequence[str]) -> None:
    """Refuse what the shell passed on and is no text: it could be neither looked up nor said."""
    for argument in arguments:
        if any("\ud800" <= character <= "\udfff" for character in argument):
            raise WrongUsage(f"{argument[:64]!a} is not UTF-8", "type it anew; give a file of such a name another")


def _told(error: BaseException) -> int:
    """Say what went wrong on standard error, and return the exit status."""
    if isinstance(error, LemelError):
        return _told_faults(error)
    if isinstance(error, BrokenPipeError) or isinstance(error.__context__, BrokenPipeError):
        _drop_output()
        return READER_GONE
    if isinstance(error, (KeyboardInterrupt, typer.Abort)):
        _complain(_INTERRUPTED_WORDS)
        return INTERRUPTED
    if isinstance(error, (typer.Exit, SystemExit)):
        code = error.exit_code if isinstance(error, typer.Exit) else error.code
        return code if isinstance(code, int) else 0
    if isinstance(error, _usage_error()):
        return _told_usage(error)
    if isinstance(error, OSError):
        what = f"{error.filename or 'standard output'}: {error.strerror or error}"
        _complain(one_line(f"{what} → check the path, its permissions and the space left"))
        return WrongUsage.exit_status
    return _told_bug(error)


def _told_faults(error: LemelError) -> int:
    for fault in error.faults:
        _complain(one_line(str(fault)))
    for note in getattr(error, "__notes__", ()):
        _complain(f"{counted(len(error.faults), 'fault')}; {note}")
    return error.exit_status


def _usage_error() -> type[BaseException]:
    base = typer.BadParameter.__base__
    assert base is not None
    return base


def _told_usage(error: BaseException) -> int:
    context = getattr(error, "ctx", None)
    message = str(getattr(error, "format_message", lambda: error)()).strip()
    if context is not None and message in ("", context.get_help().strip()):
        _complain(context.get_help())
        return WrongUsage.exit_status
    command = context.command_path if context is not None else "lemel"
    _complain(one_line(f"{message.rstrip('.')} → see: {command} --help"))
    return WrongUsage.exit_status


def _told_bug(error: BaseException) -> int:
    if os.environ.get("LEMEL_DEBUG") == "1":
        import traceback

        traceback.print_exception(error)
    damage = _damage_behind(error)
    if damage is not None:
        return _told_faults(damage)
    what = " ".join(str(error).split())[:200]
    _complain(f"this is a bug: {type(error).__name__}: {what} → report it, with what LEMEL_DEBUG=1 prints")
    return CRASHED


def _damage_behind(error: BaseException) -> LemelError | None:
    """Return what is wrong with the book, where a command could not work with it because it is damaged."""
    from ledger.book.damage import look_for_damage

    if not isinstance(error, Exception) or isinstance(error, MemoryError):
        return None
    with suppress(Exception):  # where looking into it fails too, the first error is the one to tell
        return look_for_damage()
    return None


def _complain(text: str) -> None:
    with suppress(OSError):  # where nobody is listening the exit status still says it
        print(text, file=sys.stderr, flush=True)


def _drop_output() -> None:
    """Send what is left in the buffer nowhere, so that closing it complains no more."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())


def _open_streams() -> None:
    """Open what the shell has closed, to nowhere: a file opened later must not take its place."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115 (until the process ends)


def _speak_utf8() -> None:
    """Write UTF-8 whatever the locale; a terminal that cannot show a character shows its escape."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding=None if stream.isatty() else "utf-8", errors="backslashreplace")


def run() -> None:
    """Entry point of the ``lemel`` command."""
    _open_streams()
    _speak_utf8()
    status = main()
    gc.freeze()  # the process ends: looking for cycles among what a statement held would take a third of a second
    sys.exit(status)
