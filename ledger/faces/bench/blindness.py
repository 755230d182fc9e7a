"""Nobody is shown at the bench what the book expects before the reading is recorded: refusals leave out its figures."""

from __future__ import annotations

import re
from dataclasses import replace

from ledger.refusals import Fault

_STANDS = re.compile(r"stands at [\d,.]+ g in")
_BESIDE = re.compile(r" \([\d,.]+ g\)")


def blind(fault: Fault) -> Fault:
    """Return a fault without the masses that the book holds."""
    return replace(fault, what=_BESIDE.sub("", _STANDS.sub("has less recorded in", fault.what)))
