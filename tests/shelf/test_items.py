"""What is typed of an item: what can be read, and what is refused."""

from decimal import Decimal

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.shelf.stock.book import item_of, item_row, parsed
from cogtally.shelf.stock.items import (
    Money,
    Sale,
    changed,
    kind_of,
    new_thing,
    parse_money,
    parse_number,
    text_of,
    values_in,
    values_of,
    whole_text,
)


@pytest.mark.parametrize(
    ("kind", "words", "says"),
    [
        ("piece", ["_"], "nothing was counted"),
        ("piece", [".."], "no wheel was written"),
        ("piece", ["28", "3"], "a count is 4 to 200 teeth"),
        ("pair", ["3=24"], "one count alone is no pair"),
        ("pair", ["3.driver=24"], "this is no pair"),
        ("pair", ["1@4:1.1"], "this is no pair"),
        ("pair", ["3=_/_"], "nothing was counted"),
        ("box", ["3=_/_"], "nothing was counted or turned"),
        ("box", ["input"], "'=', '.' or '@' is missing"),
    ],
)
def test_refused(kind, words, says):
    """Words that are no item of that kind are refused."""
    with pytest.raises(UserError, match=says):
        new_thing(kind, words)


@pytest.mark.parametrize("kind", ["box", "pair"])
def test_a_box_has_no_role(kind):
    """Only a loose piece can be said to be a piece."""
    with pytest.raises(UserError, match="--role laygear"):
        new_thing(kind, ["3=24/21"], role="laygear")


def test_kind_of():
    """Words of the notation are a box, bare counts a piece."""
    assert kind_of(["28", "_"]) == "piece"
    assert kind_of(["3.driver=24"]) == kind_of(["1@4:1.1"]) == "box"


def test_what_it_parses_to():
    """A count has its place or wheel, a turn test its exact turns."""
    assert parsed(new_thing("piece", ["28", "_", "14ux2"]))["counts"] == [
        {"place": 1, "teeth": 28, "unsure": False, "times": 1},
        {"place": 2, "teeth": None, "unsure": False, "times": 0},
        {"place": 3, "teeth": 14, "unsure": True, "times": 2},
    ]
    assert parsed(new_thing("box", ["1@4:1+1/6"]))["turns"] == [
        {"gears": ["1"], "in": "4", "out": "7/6", "held": False}
    ]


def test_money_is_exact():
    """An amount stays as typed and is exact as a number."""
    money = parse_money("45.10", "gbp")
    assert (money, money.text, money.value) == (
        Money("45.10", "GBP"),
        "45.10 GBP",
        Decimal("45.10"),
    )


@pytest.mark.parametrize("text", ["", "-4", "1e3", "1,200", "٤", "4.12345", "NaN", "4 5"])
def test_no_price(text):
    """What is no plain amount is refused, with how one is written."""
    with pytest.raises(UserError, match="this is no price; write a number"):
        parse_money(text, "GBP")


@pytest.mark.parametrize("text", ["", "£", "GB", "POUND", "G1P"])
def test_no_currency(text):
    """A currency has three letters."""
    with pytest.raises(UserError, match="this is no currency"):
        parse_money("4", text)


@pytest.mark.parametrize("text", ["x", "", "-1", "1.0", "9" * 16])
def test_no_number(text):
    """What is no number of an item is refused."""
    with pytest.raises(UserError, match="this is no number of an item"):
        parse_number(text)


def test_number():
    """A number may be written as on a label."""
    assert parse_number("#12") == parse_number(" 12 ") == 12


@pytest.mark.parametrize("text", ["x" * 10_001, "a\0b", "\udcff"])
def test_text_that_cannot_be_kept(text):
    """A text that is far too long, or is no text, is refused."""
    with pytest.raises(UserError):
        whole_text(text, "--note")


TEXTS = st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), max_size=20)


@given(note=TEXTS, place=TEXTS, mark=TEXTS.filter(lambda text: bool(text.strip())))
def test_edited_unchanged(note, place, mark):
    """The text of an item read back makes the same item, whatever characters are in it."""
    item = changed(ITEM, {"note": note, "place": place})
    assert changed(item, values_in(text_of(item), item, "f")) == item
    texts = values_in(text_of(item), item, "f")
    assert (texts["note"], texts["place"]) == (note.strip(), place.strip())
    assert values_in(f"note = {_toml(mark)}", item, "f") == {"note": mark}


def _toml(text: str) -> str:
    import json

    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("note = ", "f: this is no TOML"),
        ("nota = 'x'", "an item has no such key; did you mean note?"),
        ("price = 45", 'price is to be a text: "…"'),
        ("marks = 'LG'", "marks is to be a list of texts"),
        ("marks = [1]", "marks is to be a list of texts"),
        ("sold_to = 'x'", "an item has no such key"),
    ],
)
def test_edited_wrong(text, says):
    """A wrong text is refused with what would be right."""
    with pytest.raises(UserError) as error:
        values_in(text, ITEM, "f")
    assert says in str(error.value)


def test_row_and_back():
    """An item with everything in it comes back from its rows."""
    from dataclasses import replace

    from cogtally.shelf.stock.book import answer_row

    item = replace(
        ITEM, sale=Sale("2026-01-02T03:04:05Z", "X", Money("1", "EUR"), "n"), labelled="t"
    )
    now = answer_row(item.number, "now", item.now)
    assert item_of(item_row(item), now, now) == item
    assert set(values_of(item)) >= {"sold_to", "sold_price"}


def _item():
    from cogtally.shelf.stock.items import Details, Item, Named, Share

    named = Named(
        "a name",
        "type",
        0.5,
        "f",
        "p",
        (12, None),
        ("s",),
        2,
        (Share("f", ("s",), 0.5, "p", (12, None)),),
        "digest",
        4,
        "2026-01-01T00:00:00Z",
    )
    thing = new_thing("piece", ["12", "_"], role="p", marks=["LG 3102"], features=["splines=10"])
    details = Details("worn", "here", Money("45.00", "GBP"), "/a.png", "note")
    return Item(7, thing, details, named, named, "2026-01-01T00:00:00Z", "2026-01-02T00:00:00Z")


ITEM = _item()
