"""The SVG element that stands in a page among others."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from ledger.faces.pack.pictures.canvas import Caption, Sheet, drawn
from ledger.faces.pack.pictures.svg import Labels, cleaned, key_of
from ledger.faces.pack.schedule import Column, Picture, Schedule
from tests.faces.pack.pictures.drawings import SVG, ids, root, texts

HOSTILE = "</svg><script>alert('1')</script> & \"$x^2$\" \\frac {0} %s 金"


def of(key: str, name: str = "MELT", title: str = "A title") -> Picture:
    """Return a picture with a hatch, a clipped line, markers and a text."""

    def draw(sheet: Sheet) -> None:
        axes = sheet.axes(1, 0.2, 5, 1)
        axes.barh([0], [1], hatch="////", color="white", edgecolor="black")
        axes.plot([0, 1], [0, 1], marker="o")
        sheet.text(0, 0.1, name)

    return drawn(Caption(key, title, "It shows.", "Words."), Schedule(key, title, "It shows.", [Column("a", "a")], []),
                 1.5, draw)  # fmt: skip


def test_it_needs_nothing_from_outside_and_runs_nothing() -> None:
    picture = of("one")
    without_names_of_spaces = re.sub(r'xmlns(:\w+)?="[^"]*"', "", picture.svg)
    assert "://" not in without_names_of_spaces
    assert not re.search(r"<(script|style|image|foreignObject|metadata|a)\b|<!|<\?|\son\w+=", picture.svg)
    assert root(picture).tag == f"{SVG}svg"


def test_every_reference_is_to_an_id_of_its_own() -> None:
    picture = of("one")
    referred = set(re.findall(r"url\(#([^)]+)\)|href=\"#([^\"]+)\"", picture.svg))
    named = {a or b for a, b in referred}
    assert len(named) >= 3  # a clip, a hatch, a marker
    assert named <= set(ids(picture))


def test_two_pictures_of_a_page_share_no_id_even_when_they_are_drawn_alike() -> None:
    one, other = of("one"), of("other")
    assert len(ids(one)) == len(set(ids(one)))
    assert not set(ids(one)) & set(ids(other))


def test_the_same_bytes_come_again() -> None:
    assert of("one").svg == of("one").svg


def test_it_can_be_listened_to() -> None:
    svg = root(of("one", title="Waterfall"))
    title, description = svg[0], svg[1]
    assert (title.tag, title.text, description.text) == (f"{SVG}title", "Waterfall", "Words.")
    assert svg.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
    assert svg.get("role") == "img"


def test_what_people_named_is_text_and_never_markup() -> None:
    picture = of("one", HOSTILE, HOSTILE)
    assert HOSTILE in texts(picture)
    assert root(picture)[0].text == HOSTILE
    assert "<script" not in picture.svg


def test_a_character_that_xml_has_no_place_for_is_replaced() -> None:
    made = cleaned(f'<svg xmlns="{SVG[1:-1]}"><text>a\x00b\x1b</text></svg>', Labels("k", "t\x01", "d"))
    assert ElementTree.fromstring(made)[2].text == "a\ufffdb\ufffd"


@pytest.mark.parametrize(
    ("names", "key"),
    [(("picture-waterfall", "MELT"), "picture-waterfall-MELT"), (("a", "B C"), "a-B_20_C"),
     (("a", "ä/..", "§"), "a-_e4__2f__2e__2e_-_a7_")],
)  # fmt: skip
def test_a_key_has_letters_that_an_id_and_a_file_may_have(names: tuple[str, ...], key: str) -> None:
    assert key_of(*names) == key


def test_keys_of_long_names_stay_short_and_apart() -> None:
    one, other = (key_of("picture-waterfall", "金" * 63 + last) for last in "ab")
    assert one != other
    assert len(one.encode()) <= 100


def test_no_machine_setting_reaches_a_picture() -> None:
    import matplotlib

    before = of("one").svg
    with matplotlib.rc_context({"font.size": 30, "svg.fonttype": "path", "lines.linewidth": 9}):
        assert of("one").svg == before
        assert matplotlib.rcParams["font.size"] == 30  # and a picture leaves the caller's settings alone
