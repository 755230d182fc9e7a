"""Learned rates for people, and the change of the set-up that they propose, ready to be applied."""

from __future__ import annotations

import json
import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from math import floor, log10
from pathlib import Path
from typing import Any, Final

from ledger.faces.caution import say_caution
from ledger.faces.printing import Table, counted, mass, ng_of, say, say_table, say_text
from ledger.faces.toml_text import toml_lines

Document = dict[str, Any]

#: Tickets that stand out, of one operation, that are named.
_NAMED: Final = 4

_FLAGGED_MISSING: Final = "short"


def say_rates(document: Document, unit: str, written: Path | None) -> None:
    """Print the page; ``written`` is the file into which the change was written."""
    say_text(f"Normal loss of {document['plant']}: {document['metal']}, % of {document['share_of']}")
    _say_basis(document)
    if document["rates"]:
        say()
        say_table(_losses(document["rates"]))
        say()
        _say_scatter(document["rates"])
        _say_fixed(document["rates"], unit)
        _say_standing_out(document["rates"])
    say()
    _say_notes(document)
    if document["proposal"] is not None:
        say()
        _say_proposal(document, written)
    say_caution()


def _say_basis(document: Document) -> None:
    periods = document["periods"]
    if not periods or not document["tickets"]:
        say_text("No counted month has a work ticket yet: an area's tickets speak once its month is counted.")
        return
    mixed = f", {counted(document['mixed'], 'more')} of several materials left out" if document["mixed"] else ""
    span = periods[0] if len(periods) == 1 else f"{periods[0]} to {periods[-1]}"
    say_text(f"Learned from {counted(document['tickets'], 'ticket')} of counted months, {span}{mixed}. A loss is + "
             "where metal is missing.")  # fmt: skip
    if document["uncounted"]:
        named = ", ".join(f"{u['area']} {u['period']}" for u in document["uncounted"])
        say_text(f"Not counted, and left out: {named}.")


def name(rate: Document) -> str:
    """Return the operation, and the material where the rate is of one."""
    material = rate["alloy"] or rate["class"]
    return f"{rate['operation']} {material}" if material else str(rate["operation"])


def per_cent(share: float | None, step: float | None = None) -> str:
    """Return a share in per cent, with digits down to half a ``step`` that it is known by; all it has without one."""
    if share is None:
        return "–"
    if step is None:
        return f"{share * 100:.6f}".rstrip("0").rstrip(".") or "0"
    digits = min(max(-floor(log10(step * 100 / 2)), 0), 6)
    return f"{round(share * 100, digits) + 0.0:.{digits}f}"


def _step(low: float | None, high: float | None) -> float | None:
    """Return a quarter of an interval, about one standard deviation."""
    return None if low is None or high is None else max((high - low) / 4, 1e-8)


def _interval(low: float | None, high: float | None) -> str:
    step = _step(low, high)
    if low == high == 0:
        return "0"
    return "–" if step is None else f"{per_cent(low, step)} to {per_cent(high, step)}"


def _losses(rates: Sequence[Document]) -> Table:
    table = Table(("operation", "tickets", "months", "in force", "learned", "95 %", "proposed"), frozenset((0, 6)))
    for rate in rates:
        loss, in_force = rate["loss"], rate["in_force"]
        step = _step(loss["low"], loss["high"])
        now = {"unrated": "–", "derived": f"({per_cent(in_force['loss'], step)})"}.get(in_force["how"])
        table.add(name(rate), f"{rate['tickets']:,}", str(rate["months"]), now or per_cent(in_force["loss"]),
                  per_cent(loss["learned"], step or abs(loss["learned"]) / 30), _interval(loss["low"], loss["high"]),
                  _says(rate))  # fmt: skip
    return table


def _says(rate: Document) -> str:
    if "loss" in rate["proposed"]:
        return f"{rate['says']} {rate['proposed']['loss'].removesuffix('%')}"
    if rate["says"] == "derived":
        low, high, now = rate["loss"]["low"], rate["loss"]["high"], rate["in_force"]["loss"]
        return "derived" if low <= now <= high else "derived, off"
    return f"see {next(iter(rate['proposed']))}" if rate["says"] == "change" else str(rate["says"])


def _say_scatter(rates: Sequence[Document]) -> None:
    table = Table(("operation", "spread", "learned", "95 %", "drift", "learned", "95 %"))
    for rate in rates:
        table.add(name(rate), *_deviation(rate, "spread"), *_deviation(rate, "drift"))
    say_text("Spread, from ticket to ticket, and drift, from month to month: in force, learned, interval")
    say_table(table)
    if any(rate["in_force"]["assumed"] for rate in rates):
        say("* assumed: see lemel setup show --assumed")


def _deviation(rate: Document, key: str) -> tuple[str, str, str]:
    """Return a spread or drift as it is in force, as learned, and its interval."""
    now, d = rate["in_force"][key], rate[key]
    mark = "*" if key in rate["in_force"]["assumed"] else ""
    step = (_step(d["low"], d["high"]) if d["high"] else d["learned"] / 4) or None
    return ("–" if now is None else per_cent(now, now / 30 or None) + mark, per_cent(d["learned"], step),
            _interval(d["low"], d["high"]))  # fmt: skip


def _say_fixed(rates: Sequence[Document], unit: str) -> None:
    table = Table(("operation", "each", "learned", "95 %", "95 of 100", "below"))
    for rate in rates:
        each, ticket = rate["each"], rate["next_ticket"]
        if each is None and ticket["low"] is None:
            continue
        now = "–" if rate["in_force"]["how"] == "derived" else mass(ng_of(rate["in_force"]["each"]), unit)
        learned, low, high = ("–",) * 3
        if each:
            learned, low, high = (mass(ng_of(each[key]), unit) for key in ("learned", "low", "high"))
        table.add(name(rate), now, learned, f"{low} to {high}" if each else "–",
                  _interval(ticket["low"], ticket["high"]),
                  per_cent(ticket["below"], _step(ticket["low"], ticket["high"])))  # fmt: skip
    if not table.rows:
        return
    say()
    say_text(f"Each, what a ticket loses whatever its size, in {unit}: in force, learned (by its slope against "
             "1/input), interval. Beside it, in %, the range of 95 of 100 tickets, and what 95 of 100 stay "
             "below")  # fmt: skip
    say_table(table)


def _say_standing_out(rates: Sequence[Document]) -> None:
    for number, rate in enumerate([rate for rate in rates if rate["standing_out"]]):
        if not number:
            say()
            say_text("Standing out by themselves, beyond 5 σ; they hardly count:")
        out = rate["standing_out"]
        more = f" and {len(out) - _NAMED} more" if len(out) > _NAMED else ""
        say_text(f"{name(rate)}: {', '.join(out[:_NAMED])}{more}", "    ", "")


def _say_notes(document: Document) -> None:
    trust = document["trust"]
    if trust["learned"] and not trust["off"]:
        off = f"the stated rates of this plant are off by no more than chance, by {trust['operations']} of them"
    elif trust["learned"]:
        off = (f"the stated rates of this plant are off by {trust['off']:.2g} of what one ticket varies by, by "
               f"{trust['operations']} of them")  # fmt: skip
    else:
        off = "a stated rate weighs as much as one ticket of one month, the rates being too few to tell"
    say_text(f"Assumed: {off}; what is in force counts as one more ticket for spread and one more month for drift. A "
             "figure in brackets is derived from another metal's rate, by composition. Interval: 95 %, with what "
             "weighings and assays share.")  # fmt: skip
    others = [metal for metal in document["stated_in"] if metal != document["metal"]]
    if others:
        say_text(f"Rates are stated in {' and '.join(others)} too: --metal {others[0]}.")


# The proposal.


def _say_proposal(document: Document, written: Path | None) -> None:
    proposal = document["proposal"]
    if proposal["change"] is None:
        say_text("Proposed: nothing, so there is no change to apply. What is in force lies within the intervals, or "
                 "too little is known.")  # fmt: skip
        return
    say("Proposed, and applied by nobody yet:")
    for line in _words(document):
        say_text(line, "    ", "")
    say()
    _say_turned(proposal["hidden"], "now", "Flags that this would have hidden")
    say()
    _say_turned(proposal["raised"], "then", "Flags that this would have raised")
    say()
    if written is not None:
        say(f"written to {written}")
        say_text(f"A named person who may set applies it, with: lemel setup change {written}")
        return
    say_text("A named person who may set applies this, saved in a file, with: lemel setup change FILE")
    say()
    for line in change_lines(document, comments=False):
        say(line)


def _words(document: Document) -> Iterator[str]:
    """Yield a sentence for each proposal."""
    for rate in document["rates"]:
        if not rate["proposed"]:
            continue
        now = rate["in_force"]
        before = {"loss": None if now["loss"] is None else per_cent(now["loss"]) + "%",
                  "each": mass(ng_of(now["each"]), "g") + " g",
                  **{key: None if now[key] is None else per_cent(now[key], now[key] / 30 or None) + "%"
                     for key in ("spread", "drift")}}  # fmt: skip
        parts = [f"{key} {before[key] or 'none'} → {text}" for key, text in rate["proposed"].items()]
        loss, of = rate["loss"], f"{counted(rate['tickets'], 'ticket')} in {counted(rate['months'], 'month')}"
        learned = per_cent(loss["learned"], _step(loss["low"], loss["high"]))
        raised = " RAISES what is allowed: what evidence of waste is there?" if rate["raises"] else ""
        yield (f"{name(rate)}: {', '.join(parts)} (learned {learned} %, {_interval(loss['low'], loss['high'])}; {of})."
               f"{raised}")  # fmt: skip


def _say_turned(turned: Sequence[Document], side: str, head: str) -> None:
    """Print areas, and tickets that are short, by name; tickets that are over only by their number."""
    if not turned:
        say(f"{head}: none")
        return
    say(f"{head}:")
    table = Table(("period", "area", "ticket", "now", "z", "then", "z"), frozenset((0, 1, 2, 3, 5)))
    for t in _by_name(turned, side):
        ticket = f"{t['ticket']} {t['operation']}" if t["ticket"] else ""
        z = ["–" if t[when]["z"] is None else f"{t[when]['z']:.1f}" for when in ("now", "then")]
        table.add(t["period"], t["area"], ticket, t["now"]["verdict"], z[0], t["then"]["verdict"], z[1])
    if table.rows:
        say_table(table.without_empty_columns())
    for operation, number in _only_counted(turned, side).items():
        say(f"and {counted(number, 'ticket')} of {operation} that {'is' if number == 1 else 'are'} over")


def _by_name(turned: Sequence[Document], side: str) -> list[Document]:
    """Return what is named: where metal is missing first, then areas that are over."""
    named = [t for t in turned if not t["ticket"] or t[side]["verdict"] == _FLAGGED_MISSING]
    return sorted(named, key=lambda t: t[side]["verdict"] != _FLAGGED_MISSING)


def _only_counted(turned: Sequence[Document], side: str) -> Counter[str]:
    return Counter(t["operation"] for t in turned if t["ticket"] and t[side]["verdict"] != _FLAGGED_MISSING)


def change_lines(document: Document, *, comments: bool = True) -> Iterator[str]:
    """Yield the change as `lemel setup change` reads it, with what it rests on as comments; nothing without one."""
    proposal = document["proposal"]
    if proposal is None or proposal["change"] is None:
        return
    change = proposal["change"]
    for line in _comments(document) if comments else ():
        yield from textwrap.wrap(line, 78, initial_indent="# ", subsequent_indent="#   ", break_on_hyphens=False)
    for key in ("from", "by", "reason"):
        comment = "  # write here who decides it" if key == "by" and not change[key] else ""
        yield f"{key} = {json.dumps(change[key], ensure_ascii=False)}{comment}"
    yield ""
    tables = list(toml_lines({key: value for key, value in change.items() if isinstance(value, list)}))
    yield from tables[:-1] if tables and not tables[-1] else tables


def _comments(document: Document) -> Iterator[str]:
    yield f"Proposed by lemel rates for {document['metal']}. Nothing of it holds until a named person applies it."
    yield from _words(document)
    hidden = document["proposal"]["hidden"]
    for t in _by_name(hidden, "now"):
        what = f"ticket {t['ticket']} ({t['operation']})" if t["ticket"] else f"area {t['area']}"
        yield f"Would have hidden: {t['period']}, {what}, {t['now']['verdict']}."
    for operation, number in _only_counted(hidden, "now").items():
        yield f"Would have hidden: {counted(number, 'ticket')} of {operation}, over."
