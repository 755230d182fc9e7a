"""``lemel audit changes``: changes of the set-up, and who looked up names in it."""

from __future__ import annotations

from typing import Any

from ledger.faces.cli import options


def changes(book: options.Book = None, json: options.Json = False) -> None:
    """List what was changed in the set-up, by whom and when.

    Questions 8 and 11. Each dated change: who decided it, who recorded it, from when on it holds, why, and key by key
    from what to what; and whether tickets were already dated after it. Then who had
    the names behind which codes told by lemel names, and why; not the names.

    Example:  lemel audit changes
    """
    from ledger.audit.changes import changes_document
    from ledger.faces.audit_page import say_document, say_end, say_rows, text
    from ledger.faces.cli.asking import asking
    from ledger.faces.printing import say, say_text

    with asking(book) as asked:
        document = changes_document(asked.inquiry)
    if json:
        say_document(asked, document)
        return
    say_text(f"Changes of the set-up, {asked.inquiry.facts.name}")
    say()
    if not document["changes"]:
        say("  none since the book was opened")
        say()
    for change in document["changes"]:
        say_text(_head(change))
        say_rows("", [{**k, "before": k["before"] or "not stated"} for k in change["keys"]],
                 (text("key", "key"), text("from", "before"), text("to", "after")), shown=200)  # fmt: skip
    _say_looked_up(document["looked_up"])
    say_end(asked)


def _say_looked_up(looks: list[dict[str, Any]]) -> None:
    from ledger.faces.printing import say, say_text

    say_text("Names looked up with lemel names")
    if not looks:
        say("  none")
    for look in looks:
        say_text(f"record {look['record']:,}, {look['recorded_at']} by {look['recorded_by']}: "
                 f"{', '.join(look['codes'])}; asked by {look['by']}, seen by {look['witness']}: {look['reason']}",
                 first="  ", indent="    ")  # fmt: skip
    say()


def _head(change: dict[str, Any]) -> str:
    backdated = "; tickets were already dated after that" if change["backdated"] else ""
    return (f"Record {change['record']}, recorded {change['recorded_at']} by {change['recorded_by']}, after "
            f"{change['tickets_before']:,} tickets: from {change['from']} on, by {change['by']}: {change['reason']}"
            f"{backdated}")  # fmt: skip
