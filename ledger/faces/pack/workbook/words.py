"""Words in cells: what a spreadsheet could run or not show is made visible; names of sheets."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import Final

#: Characters that one cell can hold, and a sheet's name.
LONGEST_TEXT: Final = 32_767
LONGEST_NAME: Final = 31

#: A text that begins so becomes a formula once somebody edits its cell, unless it is marked as text.
FORMULA_SIGNS: Final = ("=", "+", "-", "@", "＝", "＋", "－", "＠", "\t", "\r", "\n")

_CUT: Final = " … (cut here: a cell holds no more; whole in figures.json)"
_NOT_IN_NAMES: Final = re.compile(r"[\[\]:*?/\\\s]+")
_RESERVED: Final = "history"


def plain(text: str) -> str:
    """Return a text as a cell can show it: control and direction characters written out, cut at a cell's length.

    A line end stays; a text is cut only beyond what the form can hold, and says so.
    """
    shown = text if text.isprintable() else "".join(map(_visible, text))
    return shown if _units(shown) <= LONGEST_TEXT else _cut(shown, LONGEST_TEXT - len(_CUT)) + _CUT


def _visible(sign: str) -> str:
    if sign == "\n" or sign.isprintable() or unicodedata.category(sign) == "Zs":
        return sign
    return sign.encode("unicode_escape").decode()


def _units(text: str) -> int:
    """Return the length as spreadsheets count it: characters beyond the first plane are two (UTF-16)."""
    return len(text) + sum(sign > "\uffff" for sign in text)


def _cut(text: str, units: int) -> str:
    return text.encode("utf-16-le")[: 2 * units].decode("utf-16-le", "ignore")


def sheet_names(titles: Iterable[str]) -> list[str]:
    """Return a valid name for each sheet, all different, as near to its title as 31 characters allow."""
    names: list[str] = []
    for title in titles:
        taken = {name.casefold() for name in names} | {_RESERVED}
        name, number = _name(title, LONGEST_NAME), 1
        while name.casefold() in taken:
            number += 1
            name = f"{_name(title, LONGEST_NAME - len(str(number)) - 1)} {number}"
        names.append(name)
    return names


def _name(title: str, longest: int) -> str:
    """Return the words of a title that fit, without what a sheet's name may not hold (: \\ / ? * [ ] and quotes).

    What stands after a colon tells titles apart: it is kept, and words before it left out.
    """
    words = _NOT_IN_NAMES.sub(" ", plain(title)).replace("'", "’").strip() or "Sheet"
    if _units(words) <= longest:
        return words
    apart = _NOT_IN_NAMES.sub(" ", plain(title).rpartition(":")[2]).replace("'", "’").strip()
    if ":" not in title or not 0 < _units(apart) <= longest // 2:
        return _whole_words(words, longest)
    return f"{_whole_words(words.removesuffix(apart), longest - _units(apart) - 2)}… {apart}"


def _whole_words(words: str, longest: int) -> str:
    whole = _cut(words, longest + 1).rpartition(" ")[0]
    return (whole or _cut(words, longest)).rstrip(" ,;–-")
