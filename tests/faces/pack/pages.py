"""Packs of small books, and the page read back: tables with the values that programs read, headings, links."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from ledger.faces.pack.making import Pack, make
from tests.book.plants import PLANT, Book, bought, lot, ticket

PERIOD = "2026-10"
VOID = {"input", "br", "hr", "meta", "link", "img"}


def pack_of(book: Path | sqlite3.Connection, metal: str = "gold", unit: str = "g", period: str = PERIOD) -> Pack:
    """The pack of a book, from a file or in memory."""
    if isinstance(book, sqlite3.Connection):
        return make(book, period, metal, unit)
    connection = sqlite3.connect(f"file:{book}?mode=ro", uri=True)
    try:
        return make(connection, period, metal, unit)
    finally:
        connection.close()


def small_book(text: str = PLANT, *further: dict[str, Any]) -> Book:
    """A lot bought, moved and not counted again."""
    return Book(
        [bought(1, "VAULT", lot("A", "100.00", gold="999.9", basis="nominal")),
         ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", "99.98", all=True, scale="S1")]), *further],
        text,
    )  # fmt: skip


def page_of(pack: Pack) -> str:
    return content(pack, "pack.html").decode()


def content(pack: Pack, name: str) -> bytes:
    (found,) = (file.content for file in pack.files if file.name == name)
    return found


def figures_of(pack: Pack) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(content(pack, "figures.json"))
    return found


@dataclass
class Element:
    tag: str
    attributes: dict[str, str]
    inside: list[str]
    text: list[str] = field(default_factory=list)

    @property
    def words(self) -> str:
        return " ".join("".join(self.text).split())

    @property
    def value(self) -> Any:
        """What programs read: the JSON of data-value, None for an empty cell."""
        return json.loads(self.attributes["data-value"]) if "data-value" in self.attributes else None


class Read(HTMLParser):
    """A page taken apart, in order; ``unclosed`` tells of elements that do not end."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[Element] = []
        self.open: list[Element] = []
        self.misplaced: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {k: v or "" for k, v in attrs}, [e.tag for e in self.open])
        self.elements.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(Element(tag, {k: v or "" for k, v in attrs}, [e.tag for e in self.open]))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open[-1].tag != tag:
            self.misplaced.append(f"</{tag}> at {self.getpos()}")
        else:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        for element in self.open:
            element.text.append(data)

    def of(self, *tags: str) -> list[Element]:
        return [element for element in self.elements if element.tag in tags]

    def words(self) -> Iterable[str]:
        return (e.words for e in self.of("body"))

    def rows(self, schedule: str) -> list[list[Any]]:
        """The values of a table's rows, by the key of its schedule."""
        rows, inside = [], False
        for element in self.elements:
            if element.tag == "table":
                inside = element.attributes.get("data-schedule") == schedule
            elif inside and element.tag == "tr" and "tbody" in element.inside:
                rows.append([])
            elif inside and element.tag in ("td", "th") and "tbody" in element.inside:
                rows[-1].append(element.value)
        return rows
