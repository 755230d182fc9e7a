"""``lemel enter``: record tickets from files."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from ledger.faces.cli import options
from ledger.faces.printing import counted, say, say_json, warn
from ledger.faces.progress import Progress

if TYPE_CHECKING:
    from ledger.book.entering import Entered

#: Irregular tickets listed one by one, at most; beyond it they are told by flag.
LISTED: Final = 20
NEEDS_A_PERSON: Final = 5


def enter(
    files: Annotated[
        list[str] | None,
        typer.Argument(metavar="FILE...", help="JSON Lines (.jsonl), CSV (.csv) or a workbook (.xlsx); - reads "
                       "JSON Lines from standard input.", show_default=False),
    ] = None,
    book: options.Book = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would happen, and record nothing.")] = False,
    set_aside: Annotated[
        Path | None,
        typer.Option("--set-aside", metavar="FILE", help="Record the sound tickets and write the others here, with "
                     "reasons. Mend them there and enter the file.", show_default=False),
    ] = None,
    template: Annotated[
        str | None,
        typer.Option("--template", metavar="KIND", help="Print the CSV header for tickets of a kind, and do no more.",
                     show_default=False),
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Make the template a file, .xlsx (every column formatted as text) or "
                     ".csv.", show_default=False),
    ] = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Record tickets, all of them or none.

    Every fault is listed with file, line, field and mend. The same ticket twice is the same ticket. A different one
    under a used number is refused: reverse the first. What is irregular (a gain, a scale past its calibration, a lot
    not found) is recorded, and listed here.

    Example:  lemel enter october.jsonl

    Example:  lemel enter bench.csv --set-aside refused.jsonl

    Example:  lemel enter --template work --to work.xlsx
    """
    from ledger.refusals import WrongUsage

    if template is not None:
        _template(template, book, to)
        return
    if to is not None:
        raise WrongUsage("--to is for a template", "give --template KIND with it", field="--to")
    if not files:
        raise WrongUsage("there is no file to enter", "give FILE, or - for standard input")
    if set_aside is not None and set_aside.exists():
        raise WrongUsage(f"{set_aside} is there already", "give another name, or move it away", field="--set-aside")
    entered = _enter(files, book, set_aside, dry_run)
    _report(entered, dry_run, set_aside, json)
    if entered.refused:
        raise typer.Exit(NEEDS_A_PERSON)


def _template(kind: str, book: Path | None, to: Path | None) -> None:
    from ledger.book.intake.columns import template
    from ledger.book.tickets import KINDS
    from ledger.refusals import WrongUsage

    if kind not in KINDS:
        what = f"there is no kind of ticket {kind[:40]!r}"
        raise WrongUsage(what, "known are " + ", ".join(KINDS), field="--template")
    header = template(kind, _metals(book))
    if to is None:
        say(header)
    else:
        _write_template(to, header, kind)


def _write_template(to: Path, header: str, kind: str) -> None:
    from ledger.book.intake.xlsx import write_template
    from ledger.refusals import WrongUsage

    if to.suffix.lower() not in (".xlsx", ".csv"):
        raise WrongUsage(f"a template is not written as {to.name[:64]!r}", "end its name in .xlsx or .csv",
                         field="--to")  # fmt: skip
    try:
        if to.suffix.lower() == ".xlsx":
            write_template(to, header.split(","), kind)
        else:
            with to.open("x", encoding="utf-8", newline="\n") as file:
                file.write(header + "\n")
    except FileExistsError:
        raise WrongUsage(f"{to} is there already", "give another name, or move it away", field="--to") from None
    say(f"{to}: {counted(header.count(',') + 1, 'column')}, one row a line of a ticket of kind {kind}")


def _metals(book: Path | None) -> tuple[str, ...]:
    """Return the metals of the book, or gold and silver where there is none yet."""
    from ledger.book.holdings import plant_facts
    from ledger.refusals import WrongUsage

    try:
        with options.reading_book(book) as connection:
            return plant_facts(connection).metals
    except WrongUsage:
        if book is not None:
            raise
        return ("gold", "silver")


class _DryRun(Exception):
    """Leaves the transaction without recording."""


def _enter(files: list[str], book: Path | None, set_aside: Path | None, dry_run: bool) -> Entered:
    from ledger.book import entering
    from ledger.book.intake import read_file
    from ledger.book.intake.set_aside import taken_up
    from ledger.book.store import find_book, writing

    path = find_book(book)
    rows = map(taken_up, chain.from_iterable([read_file(file) for file in files]))
    try:
        with options.recording(), Progress("tickets") as progress, writing(path) as connection:
            entered = entering.enter(
                connection, rows, options.user_name(), set_aside=set_aside is not None, progress=progress.step
            )
            if dry_run:
                raise _DryRun
            if set_aside is not None and entered.refused:
                _write(set_aside, entered)
    except _DryRun:
        pass
    return entered


def _write(path: Path, entered: Entered) -> None:
    """Write what is set aside, before anything is committed: a full disk loses no ticket."""
    from ledger.book.intake.set_aside import set_aside_line

    with path.open("x", encoding="utf-8", newline="\n") as file:
        try:
            file.writelines(set_aside_line(row, faults) for row, faults in entered.refused)
            file.flush()
        except BaseException:
            path.unlink(missing_ok=True)
            raise


def _report(entered: Entered, dry_run: bool, set_aside: Path | None, json: bool) -> None:
    for fault in entered.faults:
        warn(str(fault))
    for line in _irregular(entered):
        warn(line)
    if json:
        say_json(_document(entered, dry_run))
        return
    done = "would be recorded" if dry_run else "recorded"
    refused = f", refused {len(entered.refused):,}" + (f" (in {set_aside})" if entered.refused and not dry_run else "")
    say(f"{done} {entered.recorded:,}, already there {entered.already:,}{refused}")
    if entered.irregular:
        tickets = len({number for number, _, _ in entered.irregular})
        say(f"irregular {tickets:,}: recorded, and listed for somebody to look at")


def _irregular(entered: Entered) -> Iterator[str]:
    if len(entered.irregular) <= LISTED:
        for number, flag, words in entered.irregular:
            yield f"irregular: {number}: {flag}: {words}"
        return
    by_flag: dict[str, dict[str, None]] = {}
    for number, flag, _ in entered.irregular:
        by_flag.setdefault(flag, {})[number] = None
    for flag, tickets in by_flag.items():
        named = list(tickets)
        more = f" and {len(named) - 8:,} more" if len(named) > 8 else ""
        yield f"irregular: {flag}: {counted(len(named), 'ticket')}: {', '.join(named[:8])}{more}"


def _document(entered: Entered, dry_run: bool) -> dict[str, Any]:
    return {
        "dry_run": dry_run,
        "recorded": entered.recorded,
        "already": entered.already,
        "refused": len(entered.refused),
        "irregular": [{"ticket": number, "flag": flag, "words": words} for number, flag, words in entered.irregular],
    }
