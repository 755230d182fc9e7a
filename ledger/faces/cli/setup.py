"""``lemel setup``: the set-up in force, and dated changes of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import Table, counted, say, say_json, say_table, say_text

if TYPE_CHECKING:
    import sqlite3

    from ledger.plant.assumed import Assumed
    from ledger.plant.changes import Difference

app = typer.Typer(help="Show the set-up, or record a dated change of it.", no_args_is_help=True, rich_markup_mode=None)


@app.command("show")
def show(
    assumed: Annotated[
        bool, typer.Option("--assumed", help="List what the set-up leaves out and the book assumes.")
    ] = False,
    book: options.Book = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Print the set-up, and what was changed when.

    It is the one that holds last, with all its changes, written as a plant.toml.

    Example:  lemel setup show > plant.toml

    Example:  lemel setup show --assumed
    """
    from ledger.book.setups import Setups
    from ledger.plant.assumed import assumed_values

    with options.reading_book(book) as connection:
        setup = Setups.read(connection).latest
        changes = _changes(connection)
    taken = assumed_values(setup)
    if json:
        say_json({"setup": setup.to_document(), "changes": changes,
                  "assumed": [{"key": a.key, "value": a.value_text, "why": a.why} for a in taken]})  # fmt: skip
    elif assumed:
        _say_assumed(taken)
    else:
        _say_setup(setup.to_document(), changes)


def _say_assumed(taken: list[Assumed]) -> None:
    """Print the assumed values, together where they are assumed for the same reason."""
    for why in dict.fromkeys(value.why for value in taken):
        table = Table(["key", "assumed"], frozenset((0, 1)))
        for value in taken:
            if value.why == why:
                table.add(value.key, value.value_text)
        say(f"Assumed, {why}:")
        say_table(table)
        say()


def _changes(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    """Return the recorded set-ups, the first and each change, as they were given."""
    from json import loads

    rows = connection.execute(
        "SELECT r.seq, r.recorded_at, r.recorded_by, r.body FROM setup_version AS v JOIN record AS r ON r.seq = v.seq "
        "ORDER BY r.seq"
    ).fetchall()
    return [
        {"record": seq, "recorded_at": at, "recorded_by": by, "change": loads(body) if place else None}
        for place, (seq, at, by, body) in enumerate(rows)
    ]


def _say_setup(document: dict[str, Any], changes: list[dict[str, Any]]) -> None:
    from ledger.faces.toml_text import toml_lines

    for line in toml_lines(document):
        say(line)
    say()
    for change in changes:
        body = change["change"]
        said = f"from {body['from']}, by {body['by']}: {body['reason']}" if body else "the first set-up"
        say(f"# record {change['record']}: {said} (recorded {change['recorded_at']} by {change['recorded_by']})")


@app.command("change")
def change(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The change, TOML.")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would change, and record nothing.")] = False,
    book: options.Book = None,
) -> None:  # fmt: skip
    """Record a dated change of the set-up.

    It becomes a sealed record of who, when, from and to. The file has the tables of plant.toml, with only what
    changes, and above them: from (when it takes effect), by (who decided it) and reason. It holds for tickets entered
    from now on and dated from then on. Nothing is removed.

    Example:  lemel setup change new-rates.toml --dry-run
    """
    from ledger.plant.toml_file import read_change
    from ledger.refusals import SetupRefused

    with options.recording():
        document = read_change(file)
        try:
            differences = _record(document, book, dry_run)
        except SetupRefused as refused:
            refused.faults[:] = [fault.at(file=str(file)) for fault in refused.faults]
            raise
    done = "would be recorded" if dry_run else "recorded"
    say_text(f"{done}, from {document['from']} on, by {document['by']}: {document['reason']}")
    for one in differences:
        say(f"  {one.key}: {_text(one.before)} → {_text(one.after)}")
    say(counted(len(differences), "value") + (" would change" if dry_run else " changed"))


class _DryRun(Exception):
    """Leaves the transaction without recording."""


def _record(document: dict[str, Any], book: Path | None, dry_run: bool) -> list[Difference]:
    from ledger.book.entering import stamp_now
    from ledger.book.opening import record_change
    from ledger.book.store import find_book, writing

    differences: list[Difference] = []
    try:
        with writing(find_book(book)) as connection:
            differences = record_change(connection, document, stamp_now(options.user_name()))
            if dry_run:
                raise _DryRun
    except _DryRun:
        pass
    return differences


def _text(value: str | None) -> str:
    return "not stated" if value is None else value
