"""Merkle trees against the published vectors of RFC 6962 / RFC 9162, and against the definitions written out slowly.

Source of the vectors: checks.md "Proof", RFC 6962 / 9162 test data, public; read in a copy. SHA-256("abc"): FIPS 180-4.
The slow reference is the recursive definition of RFC 9162, 2.1.1, 2.1.3.1 and 2.1.4.1, line by line.
"""

from __future__ import annotations

from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.book.merkle import (
    EMPTY_ROOT,
    Frontier,
    consistency_proof,
    consistent,
    inclusion_proof,
    leaf_hash,
    node_hash,
    root_from_inclusion,
    root_hash,
)

ENTRIES = [bytes.fromhex(text) for text in (
    "", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f",
)]  # fmt: skip
LEAVES = [leaf_hash(entry) for entry in ENTRIES]
ROOTS = {
    0: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    1: "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    2: "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    3: "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    8: "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}
MANY = [leaf_hash(bytes([n])) for n in range(40)]


# ---- the reference: slow, and as the standard says it -----------------------------------------------------------


def k(n: int) -> int:
    power = 1
    while power * 2 < n:
        power *= 2
    return power


def mth(d: list[bytes]) -> bytes:
    """2.1.1, over leaf hashes."""
    if not d:
        return sha256(b"").digest()
    if len(d) == 1:
        return d[0]
    return sha256(b"\x01" + mth(d[: k(len(d))]) + mth(d[k(len(d)) :])).digest()


def path(m: int, d: list[bytes]) -> list[bytes]:
    """2.1.3.1."""
    if len(d) == 1:
        return []
    left, right = d[: k(len(d))], d[k(len(d)) :]
    return [*path(m, left), mth(right)] if m < len(left) else [*path(m - len(left), right), mth(left)]


def subproof(m: int, d: list[bytes], b: bool) -> list[bytes]:
    """2.1.4.1."""
    if m == len(d):
        return [] if b else [mth(d)]
    left, right = d[: k(len(d))], d[k(len(d)) :]
    if m <= len(left):
        return [*subproof(m, left, b), mth(right)]
    return [*subproof(m - len(left), right, False), mth(left)]


# ---- published --------------------------------------------------------------------------------------------------


def test_sha_256_of_abc() -> None:
    """FIPS 180-4, read in checks.md: ba7816bf…15ad."""
    assert sha256(b"abc").hexdigest() == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize(("size", "root"), ROOTS.items())
def test_published_roots(size: int, root: str) -> None:
    assert root_hash(LEAVES[:size]).hex() == root


def test_published_inclusion_of_leaf_5_of_8() -> None:
    proof = [hash_.hex()[:8] for hash_ in inclusion_proof(LEAVES, 5)]
    assert proof == ["bc1a0643", "ca854ea1", "d37ee418"]


def test_published_consistency_of_6_with_8() -> None:
    proof = [hash_.hex()[:8] for hash_ in consistency_proof(LEAVES, 6)]
    assert proof == ["0ebc5d34", "ca854ea1", "d37ee418"]


# ---- against the reference --------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", range(41))
def test_every_small_tree(size: int) -> None:
    leaves = MANY[:size]
    root = mth(leaves)
    assert root_hash(leaves) == root
    for index in range(size):
        proof = inclusion_proof(leaves, index)
        assert proof == path(index, leaves)
        assert root_from_inclusion(leaves[index], index, size, proof) == root
    for first in range(1, size + 1):
        proof = consistency_proof(leaves, first)
        assert proof == subproof(first, leaves, True)
        assert consistent(first, size, mth(leaves[:first]), root, proof)


@given(st.lists(st.binary(max_size=3), max_size=200))
def test_a_growing_tree_has_the_root_of_its_leaves_at_every_size(entries: list[bytes]) -> None:
    tree, leaves = Frontier(), [leaf_hash(entry) for entry in entries]
    assert tree.root() == EMPTY_ROOT
    for size, leaf in enumerate(leaves, 1):
        tree.append(leaf)
        assert tree.size == size
    assert tree.root() == mth(leaves)


# ---- negative, named by the defect ------------------------------------------------------------------------------

ROOT = root_hash(LEAVES)
PROOF = inclusion_proof(LEAVES, 5)
WRONG_INCLUSION = {
    "another leaf": (LEAVES[4], 5, 8, PROOF),
    "the entry's plain hash": (sha256(ENTRIES[5]).digest(), 5, 8, PROOF),
    "another index": (LEAVES[5], 4, 8, PROOF),
    "an index beyond the tree": (LEAVES[5], 8, 8, PROOF),
    "an index below nothing": (LEAVES[5], -1, 8, PROOF),
    "a tree of half the size": (LEAVES[5], 5, 4, PROOF),
    "a tree of another depth": (LEAVES[5], 5, 9, PROOF),
    "no proof": (LEAVES[5], 5, 8, []),
    "the last hash left out": (LEAVES[5], 5, 8, PROOF[:-1]),
    "the first hash left out": (LEAVES[5], 5, 8, PROOF[1:]),
    "a hash too many": (LEAVES[5], 5, 8, [*PROOF, PROOF[0]]),
    "the root added": (LEAVES[5], 5, 8, [*PROOF, ROOT]),
    "two hashes swapped": (LEAVES[5], 5, 8, [PROOF[1], PROOF[0], PROOF[2]]),
    "one bit turned": (LEAVES[5], 5, 8, [bytes([PROOF[0][0] ^ 1]) + PROOF[0][1:], *PROOF[1:]]),
    "a node passed off as a leaf": (node_hash(LEAVES[4], LEAVES[5]), 5, 8, PROOF[1:]),
}


@pytest.mark.parametrize("defect", WRONG_INCLUSION.values(), ids=WRONG_INCLUSION)
def test_a_wrong_inclusion_proof_does_not_lead_to_the_root(defect: tuple[bytes, int, int, list[bytes]]) -> None:
    assert root_from_inclusion(*defect) != ROOT


def test_a_node_is_never_a_leaf() -> None:
    """Second preimage: the two children of a node, taken as one entry, have another hash (2.1.1, note)."""
    assert leaf_hash(LEAVES[0] + LEAVES[1]) != node_hash(LEAVES[0], LEAVES[1])


SIX = root_hash(LEAVES[:6])
GROWN = consistency_proof(LEAVES, 6)
WRONG_CONSISTENCY = {
    "another first root": (6, 8, ROOT, ROOT, GROWN),
    "another second root": (6, 8, SIX, SIX, GROWN),
    "roots swapped": (6, 8, ROOT, SIX, GROWN),
    "another first size": (5, 8, SIX, ROOT, GROWN),
    "a first size that is a power of two": (4, 8, SIX, ROOT, GROWN),
    "another second size": (6, 9, SIX, ROOT, GROWN),
    "sizes swapped": (8, 6, SIX, ROOT, GROWN),
    "from nothing": (0, 8, EMPTY_ROOT, ROOT, []),
    "no proof": (6, 8, SIX, ROOT, []),
    "no proof from a power of two": (4, 8, root_hash(LEAVES[:4]), ROOT, []),
    "the last hash left out": (6, 8, SIX, ROOT, GROWN[:-1]),
    "the first hash left out": (6, 8, SIX, ROOT, GROWN[1:]),
    "a hash too many": (6, 8, SIX, ROOT, [*GROWN, GROWN[0]]),
    "two hashes swapped": (6, 8, SIX, ROOT, [GROWN[1], GROWN[0], GROWN[2]]),
    "a proof between equal trees": (8, 8, ROOT, ROOT, GROWN),
    "equal sizes, other roots": (8, 8, SIX, ROOT, []),
}


@pytest.mark.parametrize("defect", WRONG_CONSISTENCY.values(), ids=WRONG_CONSISTENCY)
def test_a_wrong_consistency_proof_is_refused(defect: tuple[int, int, bytes, bytes, list[bytes]]) -> None:
    assert not consistent(*defect)


@pytest.mark.parametrize("index", [-1, 8])
def test_no_proof_of_a_leaf_that_is_not_there(index: int) -> None:
    with pytest.raises(ValueError, match="no leaf"):
        inclusion_proof(LEAVES, index)


@pytest.mark.parametrize("first", [0, 9])
def test_no_proof_from_a_tree_that_is_not_there(first: int) -> None:
    with pytest.raises(ValueError, match="no tree"):
        consistency_proof(LEAVES, first)
