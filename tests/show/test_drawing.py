"""The drawing layer: shapes, room for text, and what its checks find."""

import xml.etree.ElementTree as ElementTree
from math import isclose

import pytest
from hypothesis import given, strategies as st

from cogtally.show.drawing import (
    Box,
    Drawing,
    Ellipse,
    Group,
    Item,
    Line,
    Page,
    Pen,
    Polyline,
    Rectangle,
    Text,
    extent,
    extent_of,
    hatching,
    leaves,
    placed,
    svg_text,
    text_box,
    text_width,
)
from show.drawing_checks import crossed_labels, outside_page, overlapping_labels

SVG = "{http://www.w3.org/2000/svg}"
SHAPES: tuple[Item, ...] = (
    Line((1, 2), (11, 2), Pen(0.5, dash=(2, 1))),
    Polyline(((1, 3), (5, 8), (9, 3)), Pen(0.2), "#d9d9d9", closed=True),
    Rectangle(1, 10, 8, 4, radius=1),
    Group("round", (Ellipse(15, 5, 4, 3), Text(15, 5, "24", 4, "middle"))),
)


def drawing(*items: Item) -> Drawing:
    """A page of 100 by 60 mm."""
    return Drawing((Page(100, 60, items),), "A drawing")


def test_placed_scales_about_the_corner_and_then_moves():
    """What is drawn twice as large and moved fills twice the rectangle at the new place."""
    before, after = extent_of(SHAPES), extent_of(placed(SHAPES, 10, 20, 2))
    assert isclose(after.left, 10 + 2 * before.left)
    assert isclose(after.bottom, 20 + 2 * before.bottom)
    assert isclose(after.width, 2 * before.width)
    assert isclose(after.height, 2 * before.height)


@given(st.floats(0.5, 5), st.floats(-90, 90))
def test_hatching_stays_inside_its_shape(gap, degrees):
    """Every line of a hatching lies in its shape, and they are as many as its height has room."""
    corners = ((0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0))
    lines = hatching(corners, gap, degrees, Pen(0.1))
    assert len(lines) >= 20 / gap - 2
    for line in lines:
        for x, y in (line.start, line.end):
            assert -1e-6 <= x <= 30 + 1e-6
            assert -1e-6 <= y <= 20 + 1e-6


def test_width_grows_with_size():
    """A text twice as large is twice as wide; bold is wider."""
    assert isclose(text_width("Alder 24/21", 6), 2 * text_width("Alder 24/21", 3))
    assert text_width("Alder", 3, bold=True) > text_width("Alder", 3)


WORDS = st.lists(
    st.text(st.characters(codec="utf-8", categories=("L", "N", "P")), min_size=1, max_size=40),
    min_size=1,
    max_size=12,
)


@given(WORDS, st.floats(4, 60), st.floats(3, 30), st.floats(2, 8))
def test_text_box_never_cuts_and_never_overflows(words, width, height, size):
    """All letters of a text are set, in their order, inside the box, no larger than asked."""
    box = Box(5, 5, 5 + width, 5 + height)
    lines = text_box(" ".join(words), box, size, anchor="middle", upright="middle")
    assert "".join("".join(line.text.split()) for line in lines) == "".join(
        "".join(word.split()) for word in words
    )
    for line in lines:
        found = extent(line)
        assert found.left >= box.left - 1e-6
        assert found.right <= box.right + 1e-6
        assert found.top >= box.top - 1e-6
        assert found.bottom <= box.bottom + 1e-6
        assert line.size <= size


def test_text_box_prefers_smaller_letters_to_broken_words():
    """A word that is a little too wide is set smaller, not broken."""
    width = text_width("synchroniser", 5) * 0.8
    lines = text_box("synchroniser", Box(0, 0, width, 20), 5)
    assert [line.text for line in lines] == ["synchroniser"]


def test_checks_find_nothing_in_a_sound_drawing():
    """A drawing with everything in its place has no faults."""
    sound = drawing(*SHAPES[:3], Text(20, 20, "one", 4), Text(20, 25, "two", 4))
    assert outside_page(sound) == []
    assert overlapping_labels(sound) == []
    assert crossed_labels(sound) == []


def test_a_planted_overlap_is_found():
    """Two labels that lie on each other by a hair are found, and no others."""
    near = drawing(Text(20, 20, "one", 4), Text(20, 23.9, "two", 4), Text(60, 20, "three", 4))
    assert overlapping_labels(near) == [("one", "two")]


@pytest.mark.parametrize(
    "item",
    [
        Line((95, 10), (101, 10)),
        Text(90, 10, "a label too near to the edge", 4),
        Text(99, 30, "turned", 30, turned=True),
        Rectangle(10, 50, 10, 12),
        Ellipse(2, 30, 3, 1),
    ],
)
def test_what_leaves_the_page_is_found(item):
    """Each kind of thing is found where a part of it is off the page."""
    assert len(outside_page(drawing(item))) == 1


@pytest.mark.parametrize(
    "item",
    [
        Line((0, 0), (60, 45)),
        Polyline(((0, 19), (19, 19), (50, 19))),
        Rectangle(22, 10, 30, 20),
        Ellipse(22, 19, 2, 2),
    ],
)
def test_a_line_through_a_label_is_found(item):
    """A line across a label is found; a frame around it is none."""
    label = Text(20, 20, "label", 4)
    assert len(crossed_labels(drawing(label, item))) == 1
    assert crossed_labels(drawing(label, Rectangle(15, 10, 30, 20))) == []


def test_svg_keeps_text_as_text():
    """Strangers' text stands in the SVG as it is, escaped, with no width forced on it."""
    text = 'A <b> & "c" \u0416 \u05d0'
    root = ElementTree.fromstring(svg_text(drawing(Text(5, 10, text, 4, bold=True))))
    found = root.find(f"{SVG}text")
    assert found.text == text
    assert found.get("textLength") is None


def test_svg_holds_no_character_that_xml_forbids():
    """A control character is drawn as an empty square, and the file can be read."""
    root = ElementTree.fromstring(svg_text(drawing(Text(5, 10, "a\x07b", 4))))
    found = root.find(f"{SVG}text")
    assert found.text == "a\u25a1b"


def test_svg_names_groups_and_says_what_is_drawn():
    """Whoever cannot see a picture is told its title and what each group is."""
    text = svg_text(
        Drawing((Page(50, 50, (Group("wheel 1", SHAPES[:1], "first"),)),), "Title", "All of it")
    )
    root = ElementTree.fromstring(text)
    assert root.get("role") == "img"
    assert [e.text for e in root.iter(f"{SVG}title")] == ["Title", "first"]
    assert root.findtext(f"{SVG}desc") == "All of it"


def test_inline_svg_takes_the_width_it_is_given():
    """SVG inside HTML has no size of its own and no XML heading."""
    root = ElementTree.fromstring(svg_text(drawing(*SHAPES), inline=True))
    assert root.get("width") is None
    assert root.get("viewBox") == "0 0 100 60"
    assert not svg_text(drawing(*SHAPES), inline=True).startswith("<?xml")


def test_svg_draws_every_shape():
    """Each leaf of a drawing is one element of its SVG."""
    root = ElementTree.fromstring(svg_text(drawing(*SHAPES)))
    drawn = [e.tag.removeprefix(SVG) for e in root.iter()]
    kinds = ("line", "polygon", "polyline", "rect", "ellipse", "text")
    # One rectangle more: the white paper.
    assert sum(drawn.count(kind) for kind in kinds) == len(list(leaves(SHAPES))) + 1
