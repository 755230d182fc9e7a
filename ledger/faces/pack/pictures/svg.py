"""From the drawing library's SVG to an element that can stand among others in one page, and can be listened to.

Ids are led by the picture's key, since many pictures share a page; the style rule for everything (``*``) becomes an
attribute, since it would hold for the page; declarations, metadata and names of fonts that a reader may not have go.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from hashlib import sha256
from typing import Final
from xml.etree import ElementTree

_SVG: Final = "http://www.w3.org/2000/svg"
_XLINK: Final = "{http://www.w3.org/1999/xlink}href"
_FONT: Final = re.compile(r"font-family:[^;]*sans-serif")
_REFERENCE: Final = re.compile(r"url\(#([^)]+)\)")
_UNTURNED: Final = re.compile(r"rotate\(-?0(?:\.0)? [^)]*\)")
_NOT_OF_AN_ID: Final = re.compile(r"[^A-Za-z0-9-]")
_LONGEST, _KEPT, _DIGITS = 100, 80, 16
_NOT_OF_XML: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class Labels:
    """What a picture is called, and what is told to who cannot see it."""

    key: str
    title: str
    alternative: str

    @property
    def prefix(self) -> str:
        """What leads every id."""
        return key_of(self.key)


def key_of(*names: str) -> str:
    """Return a key of names, such as a plant's codes, in the letters that ids and files may have; no two are alike.

    One too long for a file's name ends in a digest in place of what is cut off.
    """
    key = "-".join(_NOT_OF_AN_ID.sub(lambda found: f"_{ord(found[0]):x}_", name) for name in names)
    return key if len(key) <= _LONGEST else f"{key[:_KEPT]}-{sha256(key.encode()).hexdigest()[:_DIGITS]}"


def cleaned(text: str, labels: Labels) -> str:
    """Return the SVG element of a drawing, on its own."""
    ElementTree.register_namespace("", _SVG)
    root = ElementTree.fromstring(_NOT_OF_XML.sub("\ufffd", text))
    _without(root, f"{{{_SVG}}}metadata", f"{{{_SVG}}}style")
    used = _references(root)
    for element in root.iter():
        _named(element, used, labels.prefix)
        _styled(element)
    _labelled(root, labels)
    return ElementTree.tostring(root, encoding="unicode")


def _without(root: ElementTree.Element, *tags: str) -> None:
    for parent in root.iter():
        for child in [child for child in parent if child.tag in tags]:
            parent.remove(child)


def _references(root: ElementTree.Element) -> set[str]:
    """Return the ids that something in the drawing refers to."""
    found: set[str] = set()
    for element in root.iter():
        for name, value in element.attrib.items():
            found.update(_REFERENCE.findall(value))
            if name == _XLINK:
                found.add(value.removeprefix("#"))
    return found


def _named(element: ElementTree.Element, used: set[str], prefix: str) -> None:
    """Give ids that are used the picture's prefix, and what refers to them; drop the others."""
    own = element.attrib.pop("id", None)
    if own in used:
        element.set("id", f"{prefix}-{own}")
    for name, value in list(element.attrib.items()):
        if name == _XLINK:
            del element.attrib[name]
            element.set("href", f"#{prefix}-{value.removeprefix('#')}")
        elif "url(#" in value:
            element.set(name, _REFERENCE.sub(rf"url(#{prefix}-\1)", value))


def _styled(element: ElementTree.Element) -> None:
    if "style" in element.attrib:
        element.set("style", _FONT.sub("font-family: sans-serif", element.attrib["style"]))
    if _UNTURNED.fullmatch(element.get("transform", "")):
        del element.attrib["transform"]


def _labelled(root: ElementTree.Element, labels: Labels) -> None:
    title, description = (ElementTree.Element(f"{{{_SVG}}}{tag}") for tag in ("title", "desc"))
    for element, name, text in ((title, "title", labels.title), (description, "desc", labels.alternative)):
        element.set("id", f"{labels.prefix}-{name}")
        element.text = _NOT_OF_XML.sub("\ufffd", text)
    root[0:0] = [title, description]
    root.set("role", "img")
    root.set("aria-labelledby", f"{labels.prefix}-title {labels.prefix}-desc")
    root.set("style", "max-width: 100%; height: auto; stroke-linejoin: round; stroke-linecap: butt")
    root.attrib.pop("version", None)
