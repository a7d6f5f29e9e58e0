"""The sheet to fill in: one page, everything on it, nothing on anything."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.advice import advise
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Seen, parse_seen
from cogtally.show.drawing.primitives import PAGES, Drawing, Group, Item, Rectangle, Text, leaves
from cogtally.show.drawing.svg import svg_text
from cogtally.show.screen.caution import CAUTIONS
from cogtally.show.sheet.page import CHALK, sheet_drawing
from cogtally.show.sheet.subject import (
    BLANKS,
    FEWEST_GEARS,
    MOST_GEARS,
    blank_sheet,
    family_sheet,
)
from show.drawing_checks import faults

DEMO_CAUTION = demo_catalog()
FAMILIES = pytest.mark.parametrize("family", DEMO_CAUTION.families, ids=lambda family: family.id)
BLANK = [
    *((layout, gears) for layout in BLANKS[:3] for gears in (2, 4, 5, MOST_GEARS)),
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
def test_every_demo_family_fits_one_page(family: Family, paper: str) -> None:
    """Its sheet is one page of the paper; nothing is cut, covered or crossed."""
    drawing = sheet_drawing(family_sheet(DEMO_CAUTION, family), paper)
    assert [(page.width, page.height) for page in drawing.pages] == [PAGES[paper]]
    assert faults(drawing) == []


@FAMILIES
def test_every_wheel_has_two_boxes_to_write_in(family: Family) -> None:
    """Each wheel has an empty box for its count and one for a recount, its number beside it."""
    drawing = sheet_drawing(family_sheet(DEMO_CAUTION, family))
    for number, wheel in enumerate(order_of(family), 1):
        row = group(drawing, f"count {wheel}")
        frames = [item for item in row.items if isinstance(item, Rectangle)]
        texts = [item for item in row.items if isinstance(item, Text)]
        empty = [f for f in frames if not any(f.x < t.x < f.x + f.width for t in texts)]
        assert len(empty) == 2
        assert texts[0].text == str(number)


def order_of(family: Family) -> list[str]:
    """The wheels of a family as the advice has them with nothing counted."""
    return [worth.wheel for worth in advise(DEMO_CAUTION, Seen(()), family.id, turns=False).wheels]


@FAMILIES
def test_the_picture_has_the_numbers_of_the_boxes(family: Family) -> None:
    """A wheel's number in the picture is its place in the order to count in."""
    drawing = sheet_drawing(family_sheet(DEMO_CAUTION, family))
    for number, wheel in enumerate(order_of(family), 1):
        assert written(group(drawing, f"label {wheel}").items).split()[0] == str(number)


@FAMILIES
def test_what_to_type_is_understood(family: Family) -> None:
    """The words at the foot, as they stand, are words that the notation reads."""
    words = family_sheet(DEMO_CAUTION, family).words.split()
    pairs = words[words.index(family.id) + 1 :]
    assert [word.pair for word in parse_seen(pairs).words] == list(family.train.pairs)


def test_all_parts_are_there() -> None:
    """Turn tests, pieces, key, how to count, cautions in full, and whose catalog it is."""
    drawing = sheet_drawing(family_sheet(DEMO_CAUTION, ALDER))
    text = written(drawing.pages[0].items)
    for gear in ALDER.train.gears:
        assert gear in written(group(drawing, "turns").items).split()
    for piece in ALDER.pieces:
        assert piece.name in written(group(drawing, "pieces").items)
    assert "A key to follow: 3 counts at most" in written(group(drawing, "key").items)
    for sentence in (*CHALK, *CAUTIONS, "invented demo catalog"):
        assert all(word in text for word in sentence.split())


def test_a_family_without_a_key_has_room_for_notes() -> None:
    """Where no count parts two sets the key's place is lines to write on."""
    one = replace(ALDER, sets=ALDER.sets[:1])
    drawing = sheet_drawing(family_sheet(Catalog((one,)), one))
    assert written(group(drawing, "key").items) == "Notes"
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


def test_a_long_key_is_made_to_fit() -> None:
    """A key of twenty sets stands on the page, smaller."""
    family = many_sets(20)
    drawing = sheet_drawing(family_sheet(Catalog((family,)), family))
    assert faults(drawing) == []
    said = written(group(drawing, "key").items)
    assert all(f"set-{number}" in said for number in range(20))


def test_a_key_that_would_be_too_small_is_left_out() -> None:
    """Of a key of hundreds of lines the sheet says where it is."""
    sheet = replace(family_sheet(DEMO_CAUTION, ALDER), keys=(("Count 1.driver",) * 400,))
    drawing = sheet_drawing(sheet)
    assert faults(drawing) == []
    assert "too long for a sheet" in written(group(drawing, "key").items)


def test_long_and_foreign_names_fit() -> None:
    """A long name in another script is wrapped or made smaller, never cut."""
    odd = replace(ALDER, name="Ольха четырёхступенчатая, вторая серия, 日本語の変速機" * 2)
    drawing = sheet_drawing(family_sheet(Catalog((odd,)), odd))
    assert faults(drawing) == []
    head = written(group(drawing, "head").items)
    assert "".join(odd.name.split()) in "".join(head.split())


@pytest.mark.parametrize(("layout", "gears"), BLANK)
@pytest.mark.parametrize("paper", PAGES)
def test_every_blank_fits_one_page(layout: str, gears: int | None, paper: str) -> None:
    """A blank of each layout and number of gears is one page without faults."""
    drawing = sheet_drawing(blank_sheet(layout, gears), paper)
    assert len(drawing.pages) == 1
    assert faults(drawing) == []


def test_a_blank_has_the_wheels_of_its_gears() -> None:
    """A five-speed in-line blank: input, four pairs beside the direct fourth, reverse."""
    wheels = [row.wheel for row in blank_sheet("layshaft", 5).wheels]
    assert len(wheels) == 2 + 4 * 2 + 3
    assert "4.driver" not in wheels


@pytest.mark.parametrize(
    ("layout", "gears"),
    [("planetary", 4), ("axle", 3), ("layshaft", FEWEST_GEARS - 1), ("layshaft", MOST_GEARS + 1)],
)
def test_a_blank_that_is_not_made_is_refused(layout: str, gears: int) -> None:
    """Another layout or number of gears is refused with what is made."""
    with pytest.raises(UserError):
        blank_sheet(layout, gears)


def test_snapshot(snapshot: Callable[[str, str], None]) -> None:
    """The sheet is what was looked at when it was kept."""
    snapshot("sheet/alder-4", svg_text(sheet_drawing(family_sheet(DEMO_CAUTION, ALDER))))
