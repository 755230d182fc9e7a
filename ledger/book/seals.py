"""Seals: what a close fixes, in one hash, and how that hash is printed and read back from paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from ledger.book.canonical import canonical_json, digest
from ledger.plant.numbering import check_character
from ledger.quantities.mass import shown
from ledger.refusals import WrongUsage

#: Hexadecimal digits of a seal that are printed, 160 bits of it, and how they stand in groups.
PRINTED: Final = 40
_GROUP: Final = 8


def seal_line(period: str, seal: bytes) -> str:
    """Return a seal for paper: ``2026-10 3f9c11ab 88aa0f12 … -K``: the period, 40 hexadecimal digits, a check.

    The check character is that of ISO/IEC 7064, MOD 37,36, over the period and the digits.
    """
    digits = seal.hex()[:PRINTED]
    groups = " ".join(digits[i : i + _GROUP] for i in range(0, PRINTED, _GROUP))
    return f"{period} {groups}-{check_character(period + digits)}"


def read_seal_line(text: str) -> tuple[str, str]:
    """Return period and digits of a seal copied from paper; raises WrongUsage where it was mis-copied."""
    body, dash, check = text.strip().removeprefix("seal ").rpartition("-")
    words = body.split()
    groups = PRINTED // _GROUP
    period, digits = " ".join(words[:-groups]), "".join(words[-groups:]).lower()
    if not dash or not period or len(digits) != PRINTED or set(digits) - set("0123456789abcdef"):
        mend = f"copy the whole line: period, {groups} groups of digits, check character"
        raise WrongUsage(f"{shown(text)} is not a seal", mend)
    if check.upper() != check_character(period + digits):
        raise WrongUsage(f"{shown(text)} is mis-copied: its check character does not fit", "compare it, group by group")
    return period, digits


# ---- what is sealed ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Head:
    """What a seal is the hash of: all that a close fixes, by its hashes.

    ``first`` is the first record since the last seal, ``size`` how many records the log held, ``root`` the root of
    their Merkle tree, ``previous`` the last seal; the others are hashes of canonical JSON (RFC 8785): ``close`` of what
    the close says, ``statements`` of its statements alone, ``setup`` of the set-up in force at the period's end.
    """

    period: str
    first: int
    size: int
    root: bytes
    previous: bytes | None
    close: bytes
    statements: bytes
    setup: bytes

    def document(self) -> dict[str, Any]:
        """Return the head as it stands in the record of the close; hashes are lower-case hexadecimal."""
        return {
            "period": self.period, "first": self.first, "size": self.size, "root": self.root.hex(),
            "previous": None if self.previous is None else self.previous.hex(), "close": self.close.hex(),
            "statements": self.statements.hex(), "setup": self.setup.hex(),
        }  # fmt: skip

    @property
    def seal(self) -> bytes:
        """The seal: SHA-256 over the head in canonical JSON."""
        return digest(canonical_json(self.document()))
