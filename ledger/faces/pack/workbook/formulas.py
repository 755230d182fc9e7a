"""Identities between the columns of a row: as a spreadsheet's formula, and worked out exactly.

An identity is written in column keys with + - * / and brackets: "opening + received - issued - closing".
"""

from __future__ import annotations

import ast
import operator
import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Final

_KEY: Final = re.compile(r"[a-z_]\w*(?:\.\w+)*", re.ASCII)
_WORK: Final[dict[type[ast.operator], Callable[[Fraction, Fraction], Fraction]]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
}  # fmt: skip


def keys_of(identity: str) -> list[str]:
    """Return the column keys that an identity names, each once, in their order."""
    return list(dict.fromkeys(_KEY.findall(identity)))


def in_cells(identity: str, cells: Mapping[str, str]) -> str:
    """Return an identity with cell addresses in the place of column keys, as a spreadsheet's formula."""
    return "=" + _KEY.sub(lambda key: cells[key.group()], identity).replace(" ", "")


def in_words(identity: str, heads: Mapping[str, str]) -> str:
    """Return an identity with the heads of its columns in the place of their keys."""
    return _KEY.sub(lambda key: heads.get(key.group(), key.group()), identity)


def worked_out(identity: str, figures: Mapping[str, Fraction]) -> Fraction | None:
    """Return what an identity comes to, exactly; None where a figure is missing or it divides by nothing.

    Raises ValueError for what is no identity.
    """
    keys = keys_of(identity)
    if not figures.keys() >= set(keys):
        return None
    names = {key: f"k{number}" for number, key in enumerate(keys)}
    tree = _parsed(_KEY.sub(lambda key: names[key.group()], identity))
    try:
        return _worth(tree, {names[key]: figures[key] for key in keys})
    except ZeroDivisionError:
        return None


def _parsed(text: str) -> ast.expr:
    try:
        return ast.parse(text, mode="eval").body
    except SyntaxError:
        raise ValueError(f"no identity of columns: {text}") from None


def _worth(tree: ast.expr, figures: Mapping[str, Fraction]) -> Fraction:
    match tree:
        case ast.Name(name):
            return figures[name]
        case ast.Constant(int(number)):
            return Fraction(number)
        case ast.UnaryOp(ast.USub(), operand):
            return -_worth(operand, figures)
        case ast.BinOp(left, work, right) if type(work) in _WORK:
            return _WORK[type(work)](_worth(left, figures), _worth(right, figures))
    raise ValueError(f"no identity of columns: {ast.unparse(tree)}")
