"""Audit appendix: what the figures rest on, for somebody who trusts none of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

from ledger.audit.counts import DEVIATIONS
from ledger.book.closes import closes
from ledger.faces.pack.material import Document, Material
from ledger.faces.pack.nameless import SOMEBODY, Nameless
from ledger.faces.pack.schedule import Row, Schedule, Section
from ledger.faces.pack.sections.checking import checked
from ledger.faces.pack.tables import count, mass, number, rows_of, share, when, words
from ledger.faces.printing import counted

BOTH: Final = (
    words("area"),
    mass("losses", "losses", summed=True),
    mass("gains", "gains", summed=True),
    mass("net", "net", "losses - gains", summed=True),
    count("singles", "single differences", summed=True),
)

LARGEST: Final = (
    words("area"),
    words("ticket"),
    words("kind"),
    when("at", "at"),
    words("origin"),
    words("lot"),
    mass("mass", "difference"),
)

EXPECTED: Final = (
    words("area"),
    words("operation"),
    count("tickets", "tickets"),
    mass("input", "input"),
    mass("expected", "expected"),
    mass("sd", "its sd"),
    words("rate", "rate set"),
    words("each"),
    count("record", "by record"),
    words("before_first_ticket", "before the first ticket"),
)

COUNTS: Final = (
    words("area"),
    words("count"),
    when("at", "at"),
    words("spot", "spot count"),
    words("take_on", "take-on"),
    count("lots", "lots"),
    count("weighed", "of them weighed"),
    words("deviations"),
    mass("missing", "missing"),
    mass("over", "over"),
    words("keeper_took_part", "keeper took part"),
)

ACCURACY: Final = (
    when("period", "period"),
    count("counts", "counts"),
    count("lots", "lots"),
    count("weighed", "weighed"),
    count("true", "record true"),
    share("accuracy", "accuracy", "true / lots"),
    *(count(name, name) for name in DEVIATIONS),
)

ROLLED: Final = (
    words("area"),
    words("count"),
    when("counted_at", "counted"),
    mass("counted", "counted", summed=True),
    count("tickets", "tickets since"),
    mass("in", "in since", summed=True),
    mass("out", "out since", summed=True),
    mass("closing", "closing", "counted + in - out", summed=True),
)

PREFIXES: Final = (
    words("prefix"),
    words("first"),
    words("last"),
    count("used", "used", summed=True),
    count("missing", "missing", summed=True),
)

PAPER: Final = (words("what"), words("number"), words("ticket"), when("at", "at"), words("remark"))

REVERSALS: Final = (
    words("ticket", "reversal"),
    words("of"),
    words("kind"),
    when("of_at", "dated"),
    when("said_at", "reversed"),
    words("corrected_by", "corrected by"),
    words("reason"),
)

ENTRIES: Final = (words("what"), words("ticket"), words("kind"), when("at", "dated"), words("remark"))

ROUND: Final = (
    words("code", "scale"),
    count("readings", "readings"),
    count("round", "ending in 00"),
    number("expected", "expected"),
    number("p", "p"),
    words("more_than_chance", "more than chance"),
)

FLAGS: Final = (words("flag"), count("tickets", "tickets", summed=True), when("oldest", "first"))

CHANGES: Final = (
    count("record", "record"),
    when("from", "in force from"),
    when("recorded_at", "recorded"),
    count("tickets_before", "tickets before"),
    words("backdated"),
    words("key"),
    words("before"),
    words("after"),
)

CLOSES: Final = (when("period", "period"), count("record", "record"), words("seal"))


def section(material: Material) -> Section:
    """Return the audit appendix."""
    schedules = [*_differences(material), *checked(material), *_counts(material), *_paper(material), *_setups(material)]
    return Section("audit", "Audit appendix", paragraphs=list(_words(material)), schedules=schedules)


def _words(material: Material) -> Iterator[str]:
    as_of, recorded = material.as_of, material.entries["recorded"]
    yield (
        f"Read from the book as of record {as_of.record:,}, running hash {as_of.chain}. lemel verify derives every "
        "figure again; whoever keeps this line can tell a changed book."
    )
    if material.close is None:
        yield f"The period {material.period} is not closed: it has no seal, and tickets may still enter it."
    else:
        yield f"The period is closed under record {material.close.seq:,}. Its seal: {material.close.line}"
    yield (
        f"{counted(material.entries['tickets'], 'ticket')} dated in the period; "
        f"{recorded['later_than_two_days']:,} of them were recorded more than two days after their date, the latest "
        f"{recorded['most_days']:,.1f} days."
    )
    yield "People stand in the book, by code; nobody is named here. A name on a ticket is a claim, not a signature."


# ---- differences and what was expected --------------------------------------------------------------------------


def _differences(material: Material) -> Iterator[Schedule]:
    metal = material.metal
    yield Schedule(
        "losses-and-gains",
        f"Losses and gains apart, {metal}",
        "Single differences of the period that are "
        "losses, and those that are gains: a gain hides a loss of the same size.",
        BOTH,
        rows_of(BOTH, material.differences["areas"]),
    )
    yield Schedule(
        "largest",
        f"Largest single differences, {metal}",
        "The largest single differences of each area, each with its paper.",
        LARGEST,
        rows_of(LARGEST, material.differences["largest"]),
    )
    yield Schedule(
        "expected",
        f"Normal loss expected, {metal}",
        "What loss was expected of each operation before its result was seen, "
        "how precisely, and by which record the rate was set.",
        EXPECTED,
        rows_of(EXPECTED, material.expected["operations"]),
        notes=["An expectation, never an entitlement. Each: the fixed part of a ticket."],
    )


# ---- counts -----------------------------------------------------------------------------------------------------


def _counts(material: Material) -> Iterator[Schedule]:
    document, metal = material.counts, material.metal
    rows = (
        {**row, "deviations": [f"{n} {name}" for name, n in row["deviations"].items()]} for row in document["counts"]
    )
    yield Schedule(
        "counts",
        f"Counts, {metal}",
        "Every count of the period, what it found the record to be wrong in, and whether who keeps the area took part.",
        COUNTS,
        rows_of(COUNTS, rows),
    )
    yield Schedule(
        "count-accuracy",
        "Count accuracy",
        "How true the record was found, lot by lot, take-on counts left out.",
        ACCURACY,
        rows_of(ACCURACY, document["by_period"]),
    )
    yield Schedule(
        "rolled",
        f"Rolled forward, {metal}",
        "From each area's last count to the end of the period, by the tickets between.",
        ROLLED,
        rows_of(ROLLED, material.rolled["areas"]),
    )


# ---- paper ------------------------------------------------------------------------------------------------------


def _paper(material: Material) -> Iterator[Schedule]:
    numbers, entries, nameless = material.numbers, material.entries, Nameless(material.setups)
    yield Schedule(
        "numbers",
        "Ticket numbers",
        "How many numbers of each prefix were used, and how many are missing, up to the end of the period.",
        PREFIXES,
        rows_of(PREFIXES, numbers["prefixes"]),
    )
    yield Schedule(
        "odd-paper",
        "Odd paper",
        "Numbers missing, spoiled or out of order, count sheets that do not add up, and tickets that read alike.",
        PAPER,
        rows_of(PAPER, _odd_paper(numbers, nameless)),
    )
    reversals = ({**row, "reason": nameless.text(row["reason"])} for row in entries["reversals"])
    yield Schedule(
        "reversals",
        "Reversals",
        "Every ticket of the period that undoes another, with its reason.",
        REVERSALS,
        rows_of(REVERSALS, reversals),
    )
    yield Schedule(
        "odd-entries",
        "Odd entries",
        "Tickets entered late, after a close, or at hours in which hardly any other falls.",
        ENTRIES,
        rows_of(ENTRIES, _odd_entries(entries)),
    )
    yield Schedule(
        "round-readings",
        "Round readings",
        "How many readings of each scale end in two zeros, beside the one in a hundred that chance brings.",
        ROUND,
        rows_of(ROUND, (row for row in entries["round"] if row["of"] == "scale")),
    )
    yield Schedule(
        "irregular",
        "Irregular tickets",
        "Tickets of the period that were recorded and flagged: the weighing did happen.",
        FLAGS,
        rows_of(FLAGS, _flags(material)),
    )


def _odd_paper(numbers: Document, nameless: Nameless) -> Iterator[dict[str, Any]]:
    for gap in numbers["missing"]:
        name = gap["first"] if gap["numbers"] == 1 else f"{gap['first']} to {gap['last']}"
        yield {"what": "missing", "number": name, "remark": counted(gap["numbers"], "number")}
    for void in numbers["void"]:
        yield {"what": "spoiled", **void, "remark": nameless.text(void["reason"])}
    for row in numbers["out_of_order"]:
        yield {
            "what": "out of order",
            "number": row["ticket"],
            "at": row["at"],
            "remark": f"comes after {row['before']}",
        }
    for row in numbers["sheets"]:
        yield {
            "what": row["what"],
            "number": row["sheet"],
            "ticket": row["ticket"],
            "remark": f"count {row['count']} of {row['area']}",
        }
    for row in numbers["alike"]:
        yield {"what": "reads alike", "ticket": row["ticket"], "at": row["at"], "remark": f"as {row['other']}"}


def _odd_entries(entries: Document) -> Iterator[dict[str, Any]]:
    for row in entries["late"]:
        yield {"what": "late paper", **row, "remark": f"{row['hours']:,.1f} h behind an earlier record"}
    for row in entries["after_close"]:
        yield {"what": "after a close", **row, "remark": f"of {row['closed']}, counts in {row['counts_in']}"}
    for row in entries["odd_hours"]:
        yield {"what": "odd hour or day", **row, "remark": row["why"]}


def _flags(material: Material) -> Iterator[dict[str, Any]]:
    """Yield each flag of the period with how many tickets bear it; of whom it speaks stays in the book."""
    found = material.exceptions
    times = Counter({row["flag"]: len(row["tickets"]) for row in found["irregular_standing"]})
    first = {row["flag"]: row["oldest"] for row in found["irregular_standing"]}
    today = {(row["flag"], row["ticket"]): row["at"] for row in found["irregular"]}
    for (flag, _), at in today.items():
        times[flag] += 1
        first.setdefault(flag, at)
    for flag in sorted(times):
        yield {"flag": flag, "tickets": times[flag], "oldest": first[flag]}


# ---- set-up and seals -------------------------------------------------------------------------------------------


def _setups(material: Material) -> Iterator[Schedule]:
    yield Schedule(
        "setup-changes",
        "Changes of the set-up",
        "Every change of the set-up since the book began, key by key, and whether it was dated back.",
        CHANGES,
        rows_of(CHANGES, _changes(material)),
        notes=["What is said of people is left out; lemel audit changes has it."],
    )
    rows: list[Row] = [{"period": c.period, "record": c.seq, "seal": c.line} for c in closes(material.connection)]
    yield Schedule(
        "closes",
        "Closes and seals",
        "Every period that is closed, with its seal: an outside copy of this page proves the book.",
        CLOSES,
        rows,
    )


def _changes(material: Material) -> Iterator[dict[str, Any]]:
    nameless = Nameless(material.setups)
    for change in material.changes["changes"]:
        for key in change["keys"]:
            of_person = key["key"].startswith("person") or key["key"].endswith(".keeper")
            said = {name: SOMEBODY if of_person else nameless.text(_text(key[name])) for name in ("before", "after")}
            yield {**change, "key": nameless.text(key["key"]), **said}


def _text(value: Any) -> str | None:
    return None if value is None else str(value)
