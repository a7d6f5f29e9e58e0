"""The sheet to fill in: one page, everything on it, nothing on anything."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Family, RatioSet
from cogtally.gears.notation import parse_seen
from cogtally.show.catalog import key_wheels
from cogtally.show.drawing import (
    PAGES,
    Drawing,
    Ellipse,
    Group,
    Item,
    Rectangle,
    Text,
    leaves,
    svg_text,
)
from cogtally.show.screen import CAUTIONS
from cogtally.show.sheet import (
    BLANKS,
    CHALK,
    HOW,
    MOST_GEARS,
    blank_sheet,
    family_sheet,
    sheet_drawing,
)
from show.drawing_checks import faults, small_texts

DEMO_CAUTION = demo_catalog()
FAMILIES = pytest.mark.parametrize("family", DEMO_CAUTION.families, ids=lambda family: family.id)
BLANK = [
    *((layout, gears) for layout in BLANKS[:3] for gears in (2, 5)),
    *(
        pytest.param(layout, gears, marks=pytest.mark.long)
        for layout in BLANKS[:3]
        for gears in (4, MOST_GEARS)
    ),
    *((layout, None) for layout in BLANKS[3:]),
]
ALDER = DEMO_CAUTION.by_id["alder-4"]


def groups(items: Sequence[Item]) -> Iterator[Group]:
    """Every group among items and inside them."""
    for item in items:
        if isinstance(item, Group):
            yield item
            yield from groups(item.items)


def group(drawing: Drawing, name: str) -> Group:
    """The group of that name."""
    return next(found for found in groups(drawing.pages[0].items) if found.name == name)


def written(items: Sequence[Item]) -> str:
    """All texts among items, one after the other."""
    return " ".join(item.text for item in leaves(items) if isinstance(item, Text))


@FAMILIES
@pytest.mark.parametrize("paper", PAGES)
def test_every_demo_family_fits(family, paper):
    """Its sheet is a page of the paper, or two; nothing is cut, covered, crossed or too small."""
    drawing = sheet_drawing(family_sheet(family, demo=True), paper)
    assert {(page.width, page.height) for page in drawing.pages} == {PAGES[paper]}
    assert len(drawing.pages) <= 2
    assert faults(drawing) == []
    assert small_texts(drawing, 7.0) == []
    assert "Notes" in written(group(drawing, "notes").items)


@FAMILIES
def test_every_wheel_has_two_boxes_to_write_in(family):
    """At each wheel stand its ringed number, a box for a count and one for a recount."""
    sheet = family_sheet(family, demo=True)
    drawing = sheet_drawing(sheet)
    assert set(sheet.wheels) == set(family.train.wheels)
    for number, wheel in enumerate(sheet.wheels, 1):
        label = group(drawing, f"label {wheel}")
        boxes = [item for item in label.items if isinstance(item, Rectangle)]
        assert len(boxes) == 2
        assert all(box.width >= 7.0 for box in boxes)
        assert written(label.items) == str(number)
        assert any(isinstance(item, Ellipse) for item in label.items)
    alder = group(sheet_drawing(family_sheet(ALDER)), "label input.driver").items
    assert [item.width for item in alder if isinstance(item, Rectangle)] == pytest.approx(
        [12.0, 12.0]
    )


@FAMILIES
def test_the_order_is_that_of_the_key_then_piece_by_piece(family):
    """The key asks for the first numbers in their order; the rest of a piece stays together."""
    sheet = family_sheet(family, demo=True)
    order = list(sheet.wheels)
    asked = key_wheels(sheet.key) if sheet.key is not None else []
    assert order[: len(asked)] == asked
    rest = list(sheet.wheels.values())[len(asked) :]
    assert len([piece for piece, _ in itertools.groupby(rest)]) == len(set(rest))


@FAMILIES
def test_what_to_type_is_understood(family):
    """The words at the foot, as they stand, are words that the notation reads."""
    words = family_sheet(family).words.split()
    pairs = words[words.index(family.id) + 1 :]
    assert [word.pair for word in parse_seen(pairs).words] == list(family.train.pairs)


def test_all_parts_are_there():
    """Turn tests but of the direct gear, pieces, key, how to count, cautions, and the strip."""
    drawing = sheet_drawing(family_sheet(ALDER, demo=True))
    text = written(drawing.pages[0].items)
    tests = written(group(drawing, "tests").items).split()
    for gear in ALDER.train.gears:
        assert (gear in tests) == (gear != "4")
    for piece in ALDER.pieces:
        assert piece.name in written(group(drawing, "pieces").items)
    assert "A key to follow: 3 counts at most" in written(group(drawing, "tests").items)
    for sentence in (*HOW, CHALK, *CAUTIONS, "invented demo catalog"):
        assert all(word in text for word in sentence.split())
    strip = group(drawing, "strip")
    assert "input= / 1= / 2= / 3= / R= / /" in written(strip.items)
    boxes = [item for item in leaves(strip.items) if isinstance(item, Rectangle)]
    assert len(boxes) == 2 * 4 + 3


def test_a_family_without_a_key_says_nothing_of_one():
    """Where no count parts two sets there is no key, and no demo where there is none."""
    one = replace(ALDER, sets=ALDER.sets[:1])
    drawing = sheet_drawing(family_sheet(one))
    assert not any(found.name == "key" for found in groups(drawing.pages[0].items))
    assert "demo" not in written(group(drawing, "foot").items)


def many_sets(count: int) -> Family:
    """A family of many sets, so that its key is long."""
    sets = tuple(
        RatioSet(
            f"set-{n}",
            pairs={
                "input": (17 + n % 5, 28 - n % 5),
                "1": (13 + n // 5 % 4, 32 - n // 5 % 4),
                "2": (19 + n // 20 % 5, 26 - n // 20 % 5),
                "3": (24, 21),
                "R": (12, 20, 28),
            },
        )
        for n in range(count)
    )
    return Family("gorse-4", "layshaft", direct="4", sets=sets, note="Many sets. " * 12)


def test_a_long_key_has_a_page_of_its_own():
    """A key of twenty sets stands whole on a second page; one of hundreds is told of there."""
    family = many_sets(20)
    drawing = sheet_drawing(family_sheet(family))
    assert len(drawing.pages) == 2
    assert faults(drawing) == []
    assert small_texts(drawing, 7.0) == []
    said = written(drawing.pages[1].items)
    assert all(f"set-{number}" in said for number in range(20))
    many = sheet_drawing(family_sheet(many_sets(90)))
    assert "too long for a sheet" in written(many.pages[1].items)


def test_long_and_foreign_names_fit():
    """A long name in another script is wrapped or made smaller, never cut."""
    odd = replace(ALDER, name="Ольха четырёхступенчатая, вторая серия, 日本語の変速機" * 2)
    drawing = sheet_drawing(family_sheet(odd))
    assert faults(drawing) == []
    head = written(group(drawing, "head").items)
    assert "".join(odd.name.split()) in "".join(head.split())


@pytest.mark.parametrize(("layout", "gears"), BLANK)
@pytest.mark.parametrize("paper", PAGES)
def test_every_blank_fits_one_page(layout, gears, paper):
    """A blank of each layout and number of gears is one page without faults."""
    drawing = sheet_drawing(blank_sheet(layout, gears), paper)
    assert len(drawing.pages) <= 2
    assert faults(drawing) == []
    assert small_texts(drawing, 7.0) == []


def test_snapshot(snapshot):
    """The sheet is what was looked at when it was kept."""
    snapshot("sheet/alder-4", svg_text(sheet_drawing(family_sheet(ALDER, demo=True))))
