"""``lemel``: the commands, and what is said and returned when something goes wrong."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import Final

import typer

from ledger.faces.cli.commands import NAMES, app_of
from ledger.faces.printing import counted, one_line
from ledger.refusals import LemelError, WrongUsage

#: The shell's own numbers for a command that was interrupted, and for one whose reader went away.
INTERRUPTED: Final = 130
READER_GONE: Final = 141
CRASHED: Final = 1

_INTERRUPTED_WORDS: Final = "interrupted"
_NEW_OBJECTS: Final = 200_000


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; everything that goes wrong is said in words."""
    given = sys.argv[1:] if arguments is None else list(arguments)
    try:
        _refuse_strange(given)
        app = app_of(given[:1] if given and given[0] in NAMES else NAMES)
        status = app(args=None if arguments is None else given, prog_name="lemel", standalone_mode=False)
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


def _hurry() -> None:
    """Leave out what a short command would spend a good part of its time on.

    Looking for plugins of pydantic, of which there are none; and looking for cycles among the classes and functions of
    modules just loaded, which stay: a command makes fewer objects than this before it has loaded all it needs.
    """
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    gc.set_threshold(_NEW_OBJECTS)


def run() -> None:
    """Entry point of the ``lemel`` command."""
    _open_streams()
    _speak_utf8()
    _hurry()
    status = main()
    gc.freeze()  # the process ends: looking for cycles among what a statement held would take a third of a second
    sys.exit(status)
