"""A registered tare was not taken off, taken off twice, or another container's."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.keyed import read_as
from ledger.causes.proposals import Proposal, View
from ledger.causes.reads import Read
from ledger.quantities.mass import mass_text


def propose(view: View) -> Iterator[Proposal]:
    """Yield each reading with every container that could have stood under it."""
    tares = {code: one.tare for code, one in view.evidence.setup.containers.items() if one.tare}
    for read in view.reads if tares else ():
        used = read.written.get("container") if read.field == "gross" else None
        if read.field == "tare" or (read.field == "gross" and used is None):
            continue
        yield from _of(view, read, used, tares)


def _of(view: View, read: Read, used: str | None, tares: dict[str, int]) -> Iterator[Proposal]:
    rate = view.rates["tare"]
    own = tares.get(used or "", 0)
    if used is None:
        for code, tare in tares.items():
            words = f"the tare of {code}, {mass_text(tare)} g, was not taken off"
            mend = (
                {
                    "ticket": read.ticket,
                    "line": read.line,
                    "set": {"gross": read.text, "container": code},
                    "drop": [read.field],
                }
                if read.field == "mass"
                else None
            )
            yield read_as(
                view,
                "tare",
                read,
                (code, "forgotten"),
                float(tare),
                rate / len(tares),
                words,
                what={"container": code},
                mend=mend,
            )
        return
    if own:
        words = f"the tare of {used}, {mass_text(own)} g, was taken off twice"
        mend = {"ticket": read.ticket, "line": read.line, "set": {"mass": read.text}, "drop": ["gross", "container"]}
        yield read_as(
            view, "tare", read, (used, "twice"), -float(own), rate / 2, words, what={"container": used}, mend=mend
        )
    for code, tare in tares.items():
        if code != used and tare != own:
            words = f"it stood in {code}, not in {used}"
            share = rate / 2 / len(tares)
            mend = {"ticket": read.ticket, "line": read.line, "set": {"container": code}}
            yield read_as(
                view,
                "tare",
                read,
                (code, "other"),
                float(tare - own),
                share,
                words,
                what={"container": code},
                mend=mend,
            )
