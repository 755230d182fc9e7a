"""JSON Lines: one ticket a line, read as a stream. A bad line is a fault, and reading goes on."""

from __future__ import annotations

from collections.abc import Iterator
from json import JSONDecodeError, JSONDecoder
from typing import Any, BinaryIO, Final, NoReturn

from ledger.book.canonical import LARGEST_INTEGER
from ledger.book.intake.rows import Row
from ledger.refusals import Fault

#: Bytes of one line, at most: a ticket of five thousand lots is well below.
LONGEST_LINE: Final = 1_000_000

_ONE_A_LINE = "write one whole object a line"


class _Unfit(ValueError):
    """JSON that a ticket cannot be; carries what and mend."""


def read(stream: BinaryIO, file: str) -> Iterator[Row]:
    """Yield a row for each line of ``stream`` that is not blank; memory does not grow with the file."""
    line = 0
    while raw := stream.readline(LONGEST_LINE + 2):
        line += 1
        if line == 1:
            raw = raw.removeprefix(b"\xef\xbb\xbf")
        if len(raw) > LONGEST_LINE + 1 and not raw.endswith(b"\n"):
            _skip_line(stream)
            what = f"the line is longer than {LONGEST_LINE:,} bytes"
            yield _refused(file, line, raw[:200], what, "split the ticket, or look for a missing line end")
        elif not raw.isspace() and raw:
            yield _row(raw, file, line)


def _skip_line(stream: BinaryIO) -> None:
    while (rest := stream.readline(65536)) and not rest.endswith(b"\n"):
        pass


def _row(raw: bytes, file: str, line: int) -> Row:
    try:
        return Row(file, line, decode(raw))
    except UnicodeDecodeError as error:
        utf16 = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
        what = "is UTF-16, not UTF-8" if utf16 else f"byte {error.start + 1} is not UTF-8"
        return _refused(file, line, raw, what, "save the file as UTF-8")
    except JSONDecodeError as error:
        return _refused(file, line, raw, f"is not JSON: column {error.colno}: {_lower(error.msg)}", _ONE_A_LINE)
    except _Unfit as error:
        return _refused(file, line, raw, *error.args)
    except RecursionError:
        return _refused(file, line, raw, "is nested too deeply", "a ticket nests five levels at most")


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _refused(file: str, line: int, raw: bytes, what: str, mend: str) -> Row:
    text = raw.decode(errors="replace").rstrip("\r\n")
    return Row(file, line, None, (Fault("form", what, mend, file=file, line=line),), text)


def decode(raw: bytes) -> dict[str, Any]:
    """Return the object on one line.

    Refused (ValueError, UnicodeDecodeError, RecursionError): doubled keys, floats, NaN, Infinity, integers beyond
    ±(2⁵³ − 1), anything but one object.
    """
    value = _decode(raw.rstrip(b"\r\n").decode())
    if type(value) is not dict:
        raise _Unfit("a ticket is an object { … }, and this is not", _ONE_A_LINE)
    return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise _Unfit(f"{_first_double(pairs)[:64]!r} stands twice in one object", "leave one of them out")
    return made


def _first_double(pairs: list[tuple[str, Any]]) -> str:
    seen: set[str] = set()
    for key, _ in pairs:
        if key in seen:
            return key
        seen.add(key)
    return ""


def _no_float(text: str) -> NoReturn:
    raise _Unfit(f"{text[:40]} is a bare number with a fraction", 'write it between quotes, with its unit: "1250.42 g"')


def _no_constant(text: str) -> NoReturn:
    raise _Unfit(f"{text} is not a number", "leave the field out")


def _integer(text: str) -> int:
    if len(text) > 17 or abs(int(text)) > LARGEST_INTEGER:
        raise _Unfit(f"the whole number {text[:20]}… is too large", "write it between quotes")
    return int(text)


_decode = JSONDecoder(
    object_pairs_hook=_object, parse_float=_no_float, parse_int=_integer, parse_constant=_no_constant
).decode
