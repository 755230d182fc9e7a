"""What estimates were worth: each stream's estimated content against what assay or settlement then brought.

A *stream* is whose estimate it was (the dust of an area that was swept, the difference of an area that made slag, or
an estimate that came in with the metal) and the class of the lot. One pair is one ticket that ended an estimate: an
assay, a settlement, or a discard by measurement. Only a lot that is an estimate as a whole, of one stream, makes a
pair: of a mixture nobody can say whose estimate was wrong.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from ledger.balance.daily.estimates import OpenEstimate, estimated_share
from ledger.balance.daily.inference import Mean, mean_of
from ledger.book.holdings import TICKET_STANDS
from ledger.book.lots import Origin
from ledger.book.stored import origin_from


class Stream(NamedTuple):
    """Whose estimates: ``account`` dust, difference or received; ``area`` empty for received; class empty for none."""

    account: str
    area: str
    lot_class: str


class Pair(NamedTuple):
    """One estimate and what then came, in nanograms of one metal; positive difference: less came than estimated."""

    ticket: str
    kind: str
    instant: int
    lot: str
    estimated: int
    brought: int

    @property
    def ratio(self) -> float:
        """Brought over estimated."""
        return self.brought / self.estimated


@dataclass(slots=True)
class StreamTest:
    """One stream: its pairs by date, and what of it is still an estimate."""

    stream: Stream
    pairs: list[Pair] = field(default_factory=list)
    open: list[OpenEstimate] = field(default_factory=list)

    @property
    def ratio(self) -> Mean | None:
        """Mean ratio brought ÷ estimated, its spread and 95 % interval; None without a pair."""
        return mean_of([p.ratio for p in self.pairs]) if self.pairs else None

    @property
    def bias(self) -> str:
        """"below" or "above" where the interval of the mean ratio leaves out 1; "none shown"; or "too few" pairs."""
        ratio = self.ratio
        if ratio is None or ratio.low is None or ratio.high is None:
            return "too few"
        return "below" if ratio.high < 1 else "above" if ratio.low > 1 else "none shown"

    def open_content(self, index: int) -> int:
        """Return what the stream still holds by estimate, in nanograms of one metal."""
        return sum(round(_share_of(e.origins, self.stream, index) * e.amounts[index]) for e in self.open)


@dataclass(frozen=True, slots=True)
class BackTest:
    """All streams; ``left_out`` tickets ended an estimate of a mixture, or one that said there is nothing."""

    streams: list[StreamTest]
    left_out: int


def _share_of(origins: Origin, stream: Stream, index: int) -> Any:
    return origins[stream.account, stream.area][index] if origins else 1


def streams_of(origins: Origin, lot_class: str | None) -> list[Stream]:
    """Return the streams a lot's estimate belongs to."""
    return [Stream(*key, lot_class or "") for key in origins] or [Stream("received", "", lot_class or "")]


def back_test(connection: sqlite3.Connection, metals: Sequence[str], metal: str, still_open: Sequence[OpenEstimate]
              ) -> BackTest:  # fmt: skip
    """Return the streams' tests in one metal; ``metals`` is the book's order, gross first."""
    index = metals.index(metal)
    tests: dict[Stream, StreamTest] = {}
    left_out = 0
    for event in _events(connection, metal, index):
        streams = streams_of(event.origins, event.lot_class)
        whole = estimated_share(event.origins, index) == 1 and len(streams) == 1
        if not whole or event.pair.estimated <= 0:
            left_out += 1
            continue
        tests.setdefault(streams[0], StreamTest(streams[0])).pairs.append(event.pair)
    for estimate in still_open:
        for stream in streams_of(estimate.origins, estimate.lot_class):
            if estimate.amounts[index] and _share_of(estimate.origins, stream, index):
                tests.setdefault(stream, StreamTest(stream)).open.append(estimate)
    return BackTest([tests[stream] for stream in sorted(tests)], left_out)


class _Event(NamedTuple):
    lot_class: str | None
    origins: Origin
    pair: Pair


_EVER_ESTIMATED = """
    SELECT DISTINCT lot.id, lot.number, lot.class FROM valuation AS v JOIN lot ON lot.id = v.lot
    JOIN determination AS d ON d.id = v.determination
    WHERE v.origin IS NOT NULL OR d.basis = 'estimated' ORDER BY lot.id"""

_ENDED = f"""
    SELECT t.seq, t.number, t.kind, t.instant, l.number, l.recorded, l.content, l.given, record.body
    FROM line AS l CROSS JOIN ticket AS t ON t.seq = l.ticket CROSS JOIN record ON record.seq = t.seq
    WHERE l.lot = ? AND (l.side = 'assay' OR (l.side = 'out' AND t.kind IN ('settle', 'discard')))
    AND {TICKET_STANDS.format('t')} ORDER BY t.seq, l.id"""

_BEFORE = """
    SELECT v.origin, d.basis FROM valuation AS v LEFT JOIN determination AS d ON d.id = v.determination
    WHERE v.lot = ? AND v.ticket < ? ORDER BY v.id DESC LIMIT 1"""


def _events(connection: sqlite3.Connection, metal: str, index: int) -> Iterator[_Event]:
    """Yield the tickets that ended an estimate, lot by lot; the lines of one ticket for a lot together."""
    for lot, number, lot_class in connection.execute(_EVER_ESTIMATED).fetchall():
        sums: dict[int, Pair] = {}
        for seq, ticket, kind, instant, line, recorded, content, given, body in connection.execute(_ENDED, (lot,)):
            if not states(kind, json.loads(body), line, metal):
                continue
            brought = json.loads(given if kind == "discard" else content)[index]
            before = sums.get(seq, Pair(ticket, kind, instant, number, 0, 0))
            sums[seq] = before._replace(
                estimated=before.estimated + json.loads(recorded)[index], brought=before.brought + brought
            )
        for seq, pair in sums.items():
            origin, basis = connection.execute(_BEFORE, (lot, seq)).fetchone() or (None, None)
            if origin is not None or basis == "estimated":
                yield _Event(lot_class, origin_from(origin), pair)


def states(kind: str, body: dict[str, Any], line: int, metal: str) -> bool:
    """Return whether a ticket's own words say something of a metal: what an assay leaves out stays as it was."""
    if kind == "settle":
        return True
    said = body if kind == "assay" else body["lots"][line - 1]
    return metal in (said.get("results") or said.get("content") or {})
