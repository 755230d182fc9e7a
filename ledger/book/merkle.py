"""Merkle trees over SHA-256, in the words of RFC 9162, section 2.1: root, inclusion proofs, consistency proofs.

An *entry* is any bytes; its *leaf hash* SHA-256(0x00 ‖ entry). A *node* over two others is SHA-256(0x01 ‖ left ‖
right). Of n > 1 leaves the left subtree takes the largest power of two smaller than n. Hashes are 32 bytes each.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from typing import Final

#: The root of the tree without leaves: the hash of nothing (2.1.1).
EMPTY_ROOT: Final = sha256().digest()


def leaf_hash(entry: bytes) -> bytes:
    """Return the hash of an entry as a leaf (2.1.1)."""
    return sha256(b"\0" + entry).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Return the hash of a node over its two children (2.1.1)."""
    return sha256(b"\1" + left + right).digest()


class Frontier:
    """A growing tree, of which only the roots of its complete subtrees are kept: one for each bit of its size."""

    def __init__(self) -> None:
        self.size = 0
        self._subtrees: list[bytes] = []

    def append(self, leaf: bytes) -> None:
        """Take the hash of the next leaf."""
        self.size += 1
        merges = (self.size & -self.size).bit_length() - 1
        for _ in range(merges):
            leaf = node_hash(self._subtrees.pop(), leaf)
        self._subtrees.append(leaf)

    def root(self) -> bytes:
        """Return the root of the tree so far (2.1.1)."""
        if not self._subtrees:
            return EMPTY_ROOT
        *rest, root = self._subtrees
        for left in reversed(rest):
            root = node_hash(left, root)
        return root


def root_hash(leaves: Sequence[bytes]) -> bytes:
    """Return the root over leaf hashes (2.1.1)."""
    tree = Frontier()
    for leaf in leaves:
        tree.append(leaf)
    return tree.root()


def _split(size: int) -> int:
    """Return the largest power of two smaller than ``size``, which is 2 or more."""
    return 1 << (size - 1).bit_length() - 1


def inclusion_proof(leaves: Sequence[bytes], leaf_index: int) -> list[bytes]:
    """Return the hashes that lead from a leaf, counted from 0, to the root, lowest first (2.1.3.1).

    Raises ValueError for a leaf that the tree does not have.
    """
    if not 0 <= leaf_index < len(leaves):
        raise ValueError(f"no leaf {leaf_index} in a tree of {len(leaves)}")
    low, high, path = 0, len(leaves), []
    while high - low > 1:
        middle = low + _split(high - low)
        if leaf_index < middle:
            path.append(root_hash(leaves[middle:high]))
            high = middle
        else:
            path.append(root_hash(leaves[low:middle]))
            low = middle
    return path[::-1]


def sides(leaf_index: int, tree_size: int) -> list[str]:
    """Return on which side, "left" or "right", each hash of an inclusion proof stands, lowest first."""
    low, high, found = 0, tree_size, []
    while high - low > 1:
        middle = low + _split(high - low)
        found.append("right" if leaf_index < middle else "left")
        low, high = (low, middle) if leaf_index < middle else (middle, high)
    return found[::-1]


def consistency_proof(leaves: Sequence[bytes], first: int) -> list[bytes]:
    """Return the hashes that show the tree of the ``first`` leaves to be the beginning of the whole tree (2.1.4.1).

    Raises ValueError where ``first`` is not from 1 to the tree's size.
    """
    if not 1 <= first <= len(leaves):
        raise ValueError(f"no tree of {first} leaves within one of {len(leaves)}")
    low, high, whole, proof = 0, len(leaves), True, []
    while first < high:
        middle = low + _split(high - low)
        if first <= middle:
            proof.append(root_hash(leaves[middle:high]))
            high = middle
        else:
            proof.append(root_hash(leaves[low:middle]))
            low, whole = middle, False
    if not whole:
        proof.append(root_hash(leaves[low:high]))
    return proof[::-1]


def root_from_inclusion(leaf: bytes, leaf_index: int, tree_size: int, proof: Sequence[bytes]) -> bytes | None:
    """Return the root that an inclusion proof leads to from a leaf hash; None where its length is wrong (2.1.3.2)."""
    if not 0 <= leaf_index < tree_size:
        return None
    fn, sn, r = leaf_index, tree_size - 1, leaf
    for p in proof:
        if sn == 0:
            return None
        if fn & 1 or fn == sn:
            r = node_hash(p, r)
            while fn and not fn & 1:
                fn, sn = fn >> 1, sn >> 1
        else:
            r = node_hash(r, p)
        fn, sn = fn >> 1, sn >> 1
    return r if sn == 0 else None


def consistent(first: int, second: int, first_root: bytes, second_root: bytes, proof: Sequence[bytes]) -> bool:
    """Return whether a proof shows the tree of ``first`` leaves to be the beginning of that of ``second`` (2.1.4.2)."""
    if not 0 < first <= second:
        return False
    if first == second:
        return not proof and first_root == second_root
    path = list(proof) if first & (first - 1) else [first_root, *proof]
    if not path:
        return False
    fn, sn = first - 1, second - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    fr = sr = path[0]
    for c in path[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            fr, sr = node_hash(c, fr), node_hash(c, sr)
            while fn and not fn & 1:
                fn, sn = fn >> 1, sn >> 1
        else:
            sr = node_hash(sr, c)
        fn, sn = fn >> 1, sn >> 1
    return fr == first_root and sr == second_root and sn == 0
