"""``lemel bench``: arithmetic before the metal is touched, each answer with its working."""

from __future__ import annotations

import typer

from ledger.faces.cli import bench_charge, bench_layup, bench_reduce, bench_settle, bench_strip, bench_sweeps

_HELP = "Work out a charge, a lay-up, a reduction, a settlement, a strip test or sweeps, with the working printed."

app = typer.Typer(help=_HELP, no_args_is_help=True, rich_markup_mode=None)
app.command("charge")(bench_charge.charge)
app.command("layup")(bench_layup.layup)
app.command("reduce")(bench_reduce.reduce)
app.command("settle")(bench_settle.settle)
app.command("strip")(bench_strip.strip)
app.command("sweeps")(bench_sweeps.sweeps)
