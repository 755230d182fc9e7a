"""A workbook's cells as a stream: the XML of its one sheet that holds anything, read within bounds.

A workbook is a zip of XML parts (ISO/IEC 29500), and whoever sends one may have made it to be unpacked, expanded or
counted without end. So it is read part by part with a parser of the standard library; no document type, and with it
no entity, is taken; and there are bounds on the file, on what it unpacks to, on elements, on a tag, on a cell's text
and on all texts together. Within them a workbook is refused in seconds, and takes some tens of megabytes.
"""

from __future__ import annotations

from collections.abc import Iterator
from posixpath import basename, dirname, join, normpath
from typing import BinaryIO, Final, NoReturn
from xml.parsers import expat
from zipfile import ZipFile

from ledger.book.intake.spreadsheet_parts import (
    AGAIN,
    SPLIT,
    Attributes,
    Bounds,
    Cell,
    Found,
    Line,
    Reader,
    Sheet,
    Styles,
    Texts,
    Unreadable,
)

__all__ = ["Cell", "Line", "Unreadable", "lines"]

#: Bytes of a workbook, packed and unpacked, at most.
LARGEST_FILE: Final = 20_000_000
LARGEST_BYTES: Final = 100_000_000

_CHUNK: Final = 65_536
_LONGEST_TAG: Final = 1_000_000
_DEEPEST: Final = 100


def lines(stream: BinaryIO) -> Iterator[Line]:
    """Yield the rows, those with something in them, of the one sheet of a workbook that has any.

    Raises Unreadable, or whatever the zip and XML readers raise for what is damaged.
    """
    if stream.seek(0, 2) > LARGEST_FILE:
        raise Unreadable(f"the workbook is larger than {LARGEST_FILE:,} bytes", SPLIT)
    with ZipFile(stream) as archive:
        size = sum(part.file_size for part in archive.infolist())
        if size > LARGEST_BYTES:
            raise Unreadable(f"the workbook unpacks to {size:,} bytes; {LARGEST_BYTES:,} are read at most", SPLIT)
        yield from _Workbook(archive).lines()


class _Workbook:
    """The parts of one workbook, and how much of them was read."""

    def __init__(self, archive: ZipFile) -> None:
        self.archive = archive
        self.bounds = Bounds()
        archive.getinfo("[Content_Types].xml")
        self.main = _first(self._related("", "officeDocument"), "xl/workbook.xml")

    def lines(self) -> Iterator[Line]:
        texts, dates = self._texts(), self._dates()
        sheets = self._sheets()
        full = [part for part in sheets if self._holds_any(part, texts)]
        if len(full) > 1:
            what = f"there is something on {len(full)} sheets, {sheets[full[0]]!r} and {sheets[full[1]]!r} first"
            raise Unreadable(what, "leave the tickets alone in the workbook")
        for part in full:
            sheet = Sheet(self.bounds, texts, dates)
            for _ in self._streamed(part, sheet):
                yield from sheet.taken()

    def _holds_any(self, part: str, texts: list[str]) -> bool:
        sheet = Sheet(self.bounds, texts, frozenset())
        return any(sheet.taken() for _ in self._streamed(part, sheet))

    def _sheets(self) -> dict[str, str]:
        """Return each sheet's name by its part."""
        found, parts = Found(self.bounds, "sheet"), self._related(self.main, "worksheet")
        self._read(self.main, found)
        named = {parts.get(_local(sheet, "id"), ""): sheet.get("name", "")[:31] for sheet in found.attributes}
        return {part: name for part, name in named.items() if part}

    def _texts(self) -> list[str]:
        texts = Texts(self.bounds)
        for part in self._related(self.main, "sharedStrings").values():
            self._read(part, texts)
        return texts.found

    def _dates(self) -> frozenset[int]:
        """Return the numbers of the styles that show a number as a date."""
        styles = Styles(self.bounds)
        for part in self._related(self.main, "styles").values():
            self._read(part, styles)
        return frozenset(styles.dates)

    def _related(self, part: str, kind: str) -> dict[str, str]:
        """Return the parts that a part leads to, of one kind, by the name of the relationship."""
        name, found = join(dirname(part), "_rels", basename(part) + ".rels"), Found(self.bounds, "Relationship")
        if name not in self.archive.NameToInfo:
            return {}
        self._read(name, found)
        return {
            link.get("Id", ""): normpath(join("/", dirname(part), link.get("Target", ""))).lstrip("/")
            for link in found.attributes
            if link.get("Type", "").rpartition("/")[2] == kind and link.get("TargetMode") != "External"
        }

    def _read(self, part: str, reader: Reader) -> None:
        for _ in self._streamed(part, reader):
            pass

    def _streamed(self, part: str, reader: Reader) -> Iterator[None]:
        """Parse a part, chunk by chunk, and stop after each for what the reader has."""
        parser, fed, above = expat.ParserCreate(), 0, self.bounds.depth
        parser.buffer_text = True
        parser.StartElementHandler, parser.EndElementHandler = reader.start, reader.end
        parser.CharacterDataHandler, parser.StartDoctypeDeclHandler = reader.text, _no_doctype
        with self.archive.open(part) as stream:
            while chunk := stream.read(_CHUNK):
                parser.Parse(chunk)
                fed += len(chunk)
                if fed - parser.CurrentByteIndex > _LONGEST_TAG or self.bounds.depth - above > _DEEPEST:
                    raise Unreadable(f"does not read as a workbook: {part[:64]} has tags without end", AGAIN)
                self.bounds.check()
                yield
        parser.Parse(b"", True)
        yield


def _first(parts: dict[str, str], otherwise: str) -> str:
    return next(iter(parts.values()), otherwise)


def _no_doctype(*_: object) -> NoReturn:
    raise Unreadable("does not read as a workbook: it has a document type, which no workbook has", AGAIN)


def _local(attributes: Attributes, name: str) -> str:
    """Return an attribute of another namespace, whatever its prefix."""
    return next((value for key, value in attributes.items() if key.endswith(f":{name}")), "")
