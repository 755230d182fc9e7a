"""What is set aside: refused tickets with their reasons, one a line, in a form that can be mended and entered."""

from __future__ import annotations

import json
from typing import Any

from ledger.book.intake.rows import Row
from ledger.refusals import Fault

#: The two keys of a line that was set aside. No ticket has the first.
REASONS = "set_aside"
TICKET = "ticket"


def set_aside_line(row: Row, faults: list[Fault]) -> str:
    """Return one line of JSON: the reasons, and the ticket as a document, or as text where it was none."""
    reasons = [str(fault) for fault in faults]
    document: Any = row.raw if row.document is None else row.document
    line = {REASONS: reasons, TICKET: document}
    text = json.dumps(line, ensure_ascii=False)
    whole = not any("\ud800" <= character <= "\udfff" for character in text)
    return (text if whole else json.dumps(line)) + "\n"  # half a character can be escaped, and not written


def taken_up(row: Row) -> Row:
    """Return the row of a ticket that was set aside as the ticket's own; any other row as it is."""
    document = row.document
    if document is None or REASONS not in document:
        return row
    ticket = document.get(TICKET)
    if isinstance(ticket, dict) and document.keys() == {REASONS, TICKET}:
        return row._replace(document=ticket)
    what = "what was set aside here is not a ticket yet"
    mend = f'write the mended ticket as an object after "{TICKET}"'
    fault = Fault("form", what, mend, TICKET, file=row.file, line=row.line)
    raw = ticket if isinstance(ticket, str) else json.dumps(ticket, ensure_ascii=False)
    return row._replace(document=None, faults=(fault,), raw=raw)
