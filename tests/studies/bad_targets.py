"""What is tried with bad input: each target reads bytes as the program does, and says whether they were taken."""

from __future__ import annotations

import csv
import io
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from random import Random
from zlib import crc32

from ledger.audit.evaluation import worksheet
from ledger.bench import settle_template, sweeps_template
from ledger.bench.settle import settle
from ledger.bench.settle_file import read_file
from ledger.bench.settle_money import money_of
from ledger.bench.settle_reading import out_turn_from
from ledger.bench.sweeps import sweeps_lot
from ledger.bench.sweeps_terms import lot_from
from ledger.book.canonical import canonical_json
from ledger.book.copying import take_back
from ledger.book.entering import enter
from ledger.book.intake import csv_rows, jsonl, xlsx
from ledger.book.intake.rows import Row
from ledger.book.intake.set_aside import set_aside_line, taken_up
from ledger.book.seals import read_seal_line, seal_line
from ledger.book.tickets import parse_ticket
from ledger.book.tickets.examples import EXAMPLES
from ledger.faces.out_turn_page import OutTurnPage
from ledger.plant.assumed import assumed_values
from ledger.plant.calendar import Calendar
from ledger.plant.changes import apply_change
from ledger.plant.forms import read_day
from ledger.plant.toml_file import parse_setup, read_change, read_setup
from ledger.quantities.fineness import parse_fineness, parse_fraction_mark, parse_share
from ledger.quantities.mass import parse_mass
from ledger.refusals import LemelError
from tests.book.intake.workbooks import written
from tests.book.plants import PLANT, plant
from tests.studies import invented_tickets, mutations
from tests.studies.bad_bytes import damaged_book, damaged_line, damaged_text, damaged_workbook
from tests.studies.bad_commands import bench_line, command_line, commands
from tests.studies.bad_sandbox import CHANGE, Sandbox, Wrong, judge
from tests.studies.damage import Document, as_csv, as_jsonl, damaged_bytes, damaged_documents

Try = Callable[[bytes], bool]
Draw = Callable[[Random], bytes]
_SEAL = seal_line("2026-10", bytes(range(32)))
_LINES = (
    "1250.42 g", "10.37 dwt", "585‰", "58.5%", "12K", "1/20 12K", "1/10 1/2 14K", "2026-10-05T14:30", "2026-10-31",
    "2026-10-05T14:30:05.5-04:00", "0.10%", "2026-10", _SEAL,
)  # fmt: skip


@dataclass(frozen=True)
class Target:
    """One sort of input: its name in the table, what tries it, what draws bad bytes, and its share of a million."""

    name: str
    words: str
    attempt: Try
    draw: Draw
    of_a_million: int
    seeds: tuple[bytes, ...] = ()


def _taken(work: Callable[[], object]) -> bool:
    try:
        work()
    except LemelError as refused:
        judge(refused)
        return False
    return True


class Targets:
    """All targets, over one sandbox."""

    def __init__(self, sandbox: Sandbox) -> None:
        self.box = sandbox
        self.tried = sandbox.folder / "tried"
        self.known = commands()
        self.calendar = Calendar(plant())
        self.book = mutations.Book(self._under("book"))
        self.memory = sqlite3.connect(":memory:", isolation_level=None)
        book = self.book.path.read_bytes()
        self.memory.deserialize(book[:18] + b"\1\1" + book[20:])  # in memory there is no write-ahead log
        self.before = self.memory.serialize()
        self.sound = {name: (sandbox.folder / name).read_bytes() for name in ("sealed.lemel", "copy.jsonl")}
        self.short_copy = b"".join(self.sound["copy.jsonl"].splitlines(keepends=True)[:6])

    def _under(self, name: str) -> Path:
        (self.box.place / name).mkdir()
        return self.box.place / name

    def all(self) -> list[Target]:
        """Return every target; the cheap ones get most tries."""
        turn = settle_template.TEMPLATE
        seeds = {"set-up": PLANT, "change": CHANGE, "out-turn": turn, "more": turn.replace("\n# ", "\n"),
                 "sweeps": sweeps_template.TEMPLATE}  # fmt: skip
        tickets = b"".join(as_jsonl(Random(1), [dict(one)]) for one in EXAMPLES)
        table = as_csv(Random(1), [dict(one) for one in EXAMPLES if one["kind"] == "move"])
        workbook = written(*(tuple(row) for row in _cells(table)))

        def text(*names: str) -> Draw:
            return lambda random: damaged_text(random, seeds[random.choice(names)])

        def seed(*names: str) -> tuple[bytes, ...]:
            return tuple(seeds[name].encode() for name in names)

        return [
            Target("texts", "masses, finenesses, marks, shares, times, days, periods, seals", self._line,
                   lambda random: damaged_line(random, random.choice(_LINES)), 400_000,
                   tuple(line.encode() for line in _LINES)),
            Target("jsonl", "tickets, JSON Lines, read", self._jsonl, self._drawn(as_jsonl), 190_000, (tickets,)),
            Target("csv", "tickets, CSV, read", self._csv, self._drawn(as_csv), 129_000, (table,)),
            Target("xlsx", "tickets, XLSX, read", self._xlsx, lambda r: damaged_workbook(r, workbook), 20_000,
                   (workbook,)),
            Target("set-up", "plant.toml, read and worked out", self._setup, text("set-up"), 50_000, seed("set-up")),
            Target("change", "changes of a set-up, applied", self._change, text("change"), 40_000, seed("change")),
            Target("out-turn", "out-turns, TOML and JSON, settled", self._out_turn, text("out-turn", "more"), 60_000,
                   seed("out-turn")),
            Target("sweeps", "lots of sweeps, worked out", self._sweeps, text("sweeps"), 30_000, seed("sweeps")),
            Target("worksheet", "worksheets of a sample", self._worksheet, self._drawn(as_csv), 16_000),
            Target("entry", "tickets, JSON Lines and CSV, entered into a book", self._entry, self._file, 30_000),
            Target("copy", "copies of a book, taken back", self._copy, self._damaged_copy, 5_000),
            Target("commands", "command lines, all commands", self._command,
                   lambda random: command_line(random, self.known, random.choice(("month.lemel", "sealed.lemel"))),
                   15_000),
            Target("bench", "tickets at the bench, flags and answers", self._bench,
                   lambda random: bench_line(random, self.known), 4_000),
            Target("enter", "`lemel enter`, damaged files", self._enter, self._file, 3_000),
            Target("book", "the book's file, cut off, overwritten, bits turned", self._book,
                   lambda random: damaged_book(random, self.sound["sealed.lemel"]), 8_000),
        ]  # fmt: skip

    # ---- drawing ----------------------------------------------------------------------------------------------

    def _drawn(self, write: Callable[[Random, list[Document]], bytes]) -> Draw:
        def draw(random: Random) -> bytes:
            few = self._documents(random)
            content = write(random, damaged_documents(random, few) if random.random() < 0.8 else few)
            return damaged_bytes(random, content) if random.random() < 0.4 else content

        return draw

    def _documents(self, random: Random) -> list[Document]:
        choice = random.random()
        if choice < 0.6:
            return [dict(random.choice(EXAMPLES))]
        rest = self.book.rest if choice < 0.8 else self.book.rarer
        at = random.randrange(len(rest))
        return rest[at : at + random.randint(1, 3)]

    def _file(self, random: Random) -> bytes:
        if random.random() < 0.3:
            documents = list(islice(invented_tickets.tickets(12, random.randrange(40)), random.randint(1, 6)))
        else:
            documents = random.choice((self.book.rest[: random.randint(1, 8)], self.book.rarer[: random.randint(1, 9)]))
        documents = damaged_documents(random, documents) if random.random() < 0.9 else documents
        content = (as_csv if random.random() < 0.3 else as_jsonl)(random, documents)
        return damaged_bytes(random, content) if random.random() < 0.2 else content

    def _damaged_copy(self, random: Random) -> bytes:
        lines = self.short_copy.splitlines(keepends=True)
        at = random.randrange(len(lines))
        lines[at] = damaged_bytes(random, lines[at])
        if random.random() < 0.3:
            random.shuffle(lines)
        return b"".join(lines)

    # ---- trying: reading functions --------------------------------------------------------------------------------

    def _line(self, content: bytes) -> bool:
        text = content.decode("utf-8", "surrogatepass") if _decodes(content) else content.decode("latin-1")
        readers: tuple[Callable[[str], object], ...] = (
            parse_mass, lambda t: parse_mass(t, signed=True, zero=True), parse_fineness, parse_share,
            parse_fraction_mark, self.calendar.instant, self.calendar.bounds, read_seal_line,
        )  # fmt: skip
        taken = [_taken(lambda read=read: read(text)) for read in readers]  # type: ignore[misc]
        try:
            read_day(text)
        except ValueError:
            return any(taken)
        return True

    def _jsonl(self, content: bytes) -> bool:
        return self._rows(jsonl.read(io.BytesIO(content), "tried.jsonl"))

    def _csv(self, content: bytes) -> bool:
        return self._rows(csv_rows.read(io.BytesIO(content), "tried.csv"))

    def _xlsx(self, content: bytes) -> bool:
        return self._rows(xlsx.read(io.BytesIO(content), "tried.xlsx"))

    @staticmethod
    def _rows(rows: Iterator[Row]) -> bool:
        """Read rows as entering does, without a book; what is refused must let itself be set aside."""

        def work() -> None:
            for row in map(taken_up, rows):
                if row.document is None:
                    set_aside_line(row, list(row.faults)).encode()
                    refused.append(True)
                    continue
                try:
                    parse_ticket(row.document)
                    canonical_json(row.document)
                except LemelError as error:
                    judge(error)
                    set_aside_line(row, error.faults).encode()
                    for fault in error.faults:
                        str(row.place(fault)).encode()
                    refused.append(True)

        refused: list[bool] = []
        return _taken(work) and not refused

    def _setup(self, content: bytes) -> bool:
        self.tried.write_bytes(content)

        def work() -> None:
            setup = read_setup(self.tried)
            assumed_values(setup)
            Calendar(setup).period(0)

        return _taken(work)

    def _change(self, content: bytes) -> bool:
        self.tried.write_bytes(content)
        return _taken(lambda: apply_change(_SAMPLE, read_change(self.tried)))

    def _out_turn(self, content: bytes) -> bool:
        path = self.tried.with_name("tried.json") if content[:1] in b"{[" else self.tried
        path.write_bytes(content)

        def work() -> None:
            settled = read_file(path, lambda document: settle(out_turn_from(document)))
            OutTurnPage(settled, money_of(settled)).document()

        return _taken(work)

    def _sweeps(self, content: bytes) -> bool:
        self.tried.write_bytes(content)
        return _taken(lambda: sweeps_lot(read_file(self.tried, lot_from)))

    def _worksheet(self, content: bytes) -> bool:
        self.tried.write_bytes(content)
        return _taken(lambda: worksheet(self.tried, ("ticket", "mass")))

    # ---- trying: books --------------------------------------------------------------------------------------------

    def _entry(self, content: bytes) -> bool:
        table = not content.lstrip(b"\xef\xbb\xbf \r\n").startswith((b"{", b"["))
        read = (csv_rows if table else jsonl).read
        self.memory.execute("BEGIN IMMEDIATE")
        try:
            taken = _taken(lambda: enter(self.memory, map(taken_up, read(io.BytesIO(content), "tried")), "study"))
            if taken and self.memory.execute("SELECT 1 FROM posting GROUP BY ticket, period, metal "
                                             "HAVING sum(ng) <> 0").fetchone():  # fmt: skip
                raise Wrong("does not balance")
        finally:
            self.memory.execute("ROLLBACK")
        if self.memory.serialize() != self.before:
            raise Wrong("undone, and the book is another")
        return taken

    def _copy(self, content: bytes) -> bool:
        path = self.box.folder / "out" / "taken.lemel"
        taken = _taken(lambda: take_back(path, io.BytesIO(content), file="tried"))
        there = sorted(one.name for one in path.parent.iterdir())
        if there != ["taken.lemel"] * taken:
            raise Wrong(f"taken: {taken}, and there is {there}")
        path.unlink(missing_ok=True)
        return taken

    # ---- trying: commands -----------------------------------------------------------------------------------------

    def _command(self, content: bytes, said: bytes = b"") -> bool:
        arguments = content.decode("utf-8", "surrogatepass").split("\0")
        with self.box.inside():
            status = 3  # of a crash: nothing may have been changed by it
            try:
                status, _ = self.box.call(arguments, said)
            finally:
                self.box.unharmed(status, arguments)
        return status in (0, 5)

    def _bench(self, content: bytes) -> bool:
        arguments, _, said = content.partition(b"\0\0")
        return self._command(arguments, said)

    def _enter(self, content: bytes) -> bool:
        name = "tried.jsonl" if content.lstrip(b"\xef\xbb\xbf \r\n").startswith((b"{", b"[")) else "tried.csv"
        (self.box.folder / name).write_bytes(content)
        self.box.known.add(str(self.box.folder / name))
        further = "\0--set-aside\0out/aside.jsonl" if len(content) % 3 == 0 else ""
        return self._command(f"enter\0{name}\0--book\0month.lemel{further}".encode())

    def _book(self, content: bytes) -> bool:
        """Open a damaged book by one command; it says so, or answers as it can; and it never mends it by itself."""
        path = self.box.folder / "damaged.lemel"
        path.write_bytes(content)
        self.box.known |= {f"{path}{end}" for end in ("", "-wal", "-shm", "-journal")}
        command = _OPENING[hash_of(content) % len(_OPENING)]
        try:
            return self._command("\0".join([*command, "--book", path.name]).encode())
        finally:
            for end in ("-wal", "-shm", "-journal"):
                path.with_name(path.name + end).unlink(missing_ok=True)


_OPENING = (
    ("stock",), ("position",), ("lot", "CL-0905"), ("reconcile", "2026-10"), ("reconcile", "2026-11"), ("verify",),
    ("verify", "--quick"), ("enter", "tickets.jsonl"), ("backup", "out/copy.lemel"), ("copy-out", "--to", "out/c.csv"),
    ("prove", "HC-0007"), ("setup", "show"), ("trace", "AN-1012"), ("statement", "NBM", "2026-10"), ("trend", "ROLL"),
    ("copy-out", "--what", "postings"), ("audit", "ticket", "HC-0030"), ("audit", "holdings"), ("audit", "entries"),
    ("close", "2026-11", "--by", "MQ", "--with", "HB"), ("exceptions",), ("estimates",), ("rates",),
)  # fmt: skip


def hash_of(content: bytes) -> int:
    """Return a number that depends on the whole content, the same in every process."""
    return crc32(content)


def _decodes(content: bytes) -> bool:
    try:
        content.decode("utf-8", "surrogatepass")
    except UnicodeDecodeError:
        return False
    return True


_SAMPLE = parse_setup((invented_tickets.MONTH / "plant.toml").read_text(encoding="utf-8"))


def _cells(table: bytes) -> list[list[str]]:
    text = table.decode().removeprefix("\ufeff")
    return list(csv.reader(io.StringIO(text), delimiter=";" if text.split("\n")[0].count(";") > 3 else ","))
