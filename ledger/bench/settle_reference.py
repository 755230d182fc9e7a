"""The files of settlements and sweeps, written from the models: ``python -m ledger.bench.settle_reference``."""

from __future__ import annotations

from typing import Final

from ledger.bench import settle_terms, sweeps_terms
from ledger.bench.settle_rounding import Rounding
from ledger.plant.reference import table

_HEAD: Final = """\
# Out-turns and lots of sweeps

Written from the models by `python -m ledger.bench.settle_reference`; a test keeps it so. `lemel bench settle FILE`
reads an out-turn, `lemel bench sweeps FILE` a lot of sweeps; `--template` prints one to fill in. A file is TOML, or
JSON of the same tables where its name ends in `.json`. Unknown keys are refused; every fault is told with line, key
and mend. Numbers are kept as they are written, no float is ever made of them. No term has a default that would pay
or cost anything: what is left out is not in the contract.

Determinations are by metal, by sample, then by replicate: `{ gold = [["585.1‰", "585.3‰"], ["584.9‰"]] }`. A list
alone is one sample's replicates, a text alone one determination. The mean is that of the sample means.
"""


def files_reference() -> str:
    """Return docs/reference/out-turn.md: each table of the two files, with key, meaning, form and what is left out."""
    parts = [
        table("An out-turn", settle_terms.Heading), table("[rounding]", Rounding),
        table("[[metal]]", settle_terms.Terms), table("[[charge]]", settle_terms.Charge),
        table("[[advance]]", settle_terms.Advance), table("[[lot]]", settle_terms.Lot),
        table("A lot of sweeps", sweeps_terms.Heading), table("[[part]]", sweeps_terms.Part),
    ]  # fmt: skip
    return "\n".join([_HEAD, *parts])


if __name__ == "__main__":
    print(files_reference(), end="")
