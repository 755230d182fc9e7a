"""A file that a person gives: opened without waiting for anybody, read whole, and no more of it than is sensible."""

from __future__ import annotations

import errno
import stat
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, BinaryIO, Final, NoReturn

from ledger.refusals import Fault, Refused

#: Bytes of a set-up or an out-turn, at most: a plant of five thousand areas, with everything else, is below half.
LARGEST_TEXT: Final = 1_000_000
#: Levels that a document may nest, at most; none that is read has more than seven.
DEEPEST: Final = 20
#: The largest whole number of TOML (version 1.0.0, Integer: 64 bits, signed).
LARGEST_INTEGER: Final = 2**63 - 1


def open_file(path: Path | str) -> BinaryIO:
    """Open a file for reading; raises OSError for what cannot be opened, and for a pipe or a device.

    Opening a pipe waits for whoever writes to it, and a device may never end.
    """
    kind = Path(path).stat().st_mode
    if not stat.S_ISREG(kind) and not stat.S_ISDIR(kind):
        raise OSError(errno.EINVAL, "it is a pipe or a device, and no file", str(path))
    return Path(path).open("rb")


def text_of(path: Path, refusal: type[Refused]) -> str:
    """Return the text of a small file, line ends as "\\n"; raises ``refusal`` with the file and the mend."""
    try:
        with open_file(path) as file:
            content = file.read(LARGEST_TEXT + 1)
        if len(content) <= LARGEST_TEXT:
            return content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
        what, mend = f"the file is larger than {LARGEST_TEXT:,} bytes", "check the path: it is another file"
    except UnicodeDecodeError:
        what, mend = "the file is not in UTF-8", "save it as UTF-8 text"
    except OSError as error:
        what, mend = f"the file cannot be read: {error.strerror or error}", "check the path and the permissions"
    except ValueError:  # a NUL in its name
        what, mend = "the file cannot be read: no file has such a name", "check the path"
    raise refusal([Fault(refusal.code, what, mend, file=str(path))])


def refuse_boundless(value: Any, refused: Callable[[str, str], Exception], levels: int = DEEPEST) -> None:
    """Raise ``refused(what, mend)`` for a document nested too deep, or with a number beyond 64 bits."""
    if isinstance(value, int) and not -LARGEST_INTEGER <= value <= LARGEST_INTEGER:
        raise refused("a whole number is too large", "write what was meant; a mass is text, with its unit")
    if not isinstance(value, Mapping | list):
        return
    if levels == 0:
        raise refused("the file is nested too deep", "write it flat")
    for inner in value.values() if isinstance(value, Mapping) else value:
        refuse_boundless(inner, refused, levels - 1)


def once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return the object of some pairs; raises ValueError for a key that stands twice (RFC 8259 leaves it open)."""
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key in made:
            raise ValueError(f"{key[:64]!r} stands twice in one object")
        made[key] = value
    return made


def no_number(text: str) -> NoReturn:
    """Refuse NaN and Infinity, which are no JSON (RFC 8259, section 6); raises ValueError."""
    raise ValueError(f"{text} is not a number")
