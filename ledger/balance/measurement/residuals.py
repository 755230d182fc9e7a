"""Residuals: the single differences of which areas and months are sums, each with its linear form."""

from __future__ import annotations

from typing import NamedTuple

from ledger.balance.measurement.contents import Content


class Residual(NamedTuple):
    """One posting to an area's difference: what is missing there by one line, or by one work ticket or job.

    ``kind``: reweighing, work, transfer, count, take_on or revaluation, as `origin` of the posting. ``content``: in ng
    by metal, gross first, with forms; a re-weighing's is one error in mass, each metal a multiple of it. ``prior``:
    it undoes what an earlier period held. ``line`` is 0 for a ticket's or job's own difference.
    """

    ticket: int
    number: str
    line: int
    area: str
    period: str
    instant: int
    kind: str
    lot: int | None
    content: Content
    prior: bool = False
