"""``lemel audit``: what auditors, insurers, lenders and customers ask."""

from __future__ import annotations

import typer

from ledger.faces.cli import (
    audit_changes,
    audit_counts,
    audit_cutoff,
    audit_differences,
    audit_duties,
    audit_entries,
    audit_estimated,
    audit_evaluate,
    audit_event,
    audit_expected,
    audit_gaps,
    audit_holdings,
    audit_lender,
    audit_purity,
    audit_roll,
    audit_sample,
    audit_shipment,
    audit_ticket,
    audit_value,
)

_HELP = """Answer an auditor, insurer, lender or customer.

Each command answers numbered questions of docs/auditor.md, from the book alone, and prints which state of the book it
read. Nothing here is a finding about any person.
"""

app = typer.Typer(help=_HELP, no_args_is_help=True, rich_markup_mode=None)

app.command("sample")(audit_sample.sample)
app.command("evaluate")(audit_evaluate.evaluate)
app.command("counts")(audit_counts.counts)
app.command("roll")(audit_roll.roll)
app.command("cutoff")(audit_cutoff.cutoff)
app.command("gaps")(audit_gaps.gaps)
app.command("entries")(audit_entries.entries)
app.command("duties")(audit_duties.duties)
app.command("changes")(audit_changes.changes)
app.command("differences")(audit_differences.differences)
app.command("expected")(audit_expected.expected)
app.command("event")(audit_event.event)
app.command("ticket")(audit_ticket.ticket)
app.command("tares")(audit_ticket.tares)
app.command("purity")(audit_purity.purity)
app.command("estimated")(audit_estimated.estimated)
app.command("holdings")(audit_holdings.holdings)
app.command("owners")(audit_holdings.owners)
app.command("lender")(audit_lender.lender)
app.command("value")(audit_value.value)
app.command("shipment")(audit_shipment.shipment)
