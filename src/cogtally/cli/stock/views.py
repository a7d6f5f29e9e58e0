"""`cogtally stock list | show | find | export`: look into the stock, and write it out.

What is there is left to the shelf, its look to `show`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cogtally.cli.common.options import BookOption, JsonOption, NoDemoOption
from cogtally.cli.common.output import now_written
from cogtally.cli.stock.book import AllOption, SoldOption, asked_stock
from cogtally.gears.errors import UserError

if TYPE_CHECKING:
    from pathlib import Path

    from cogtally.shelf.stock.items import Item

FOUND_NOTHING = 1

AtOption = Annotated[
    str | None, typer.Option("--place", metavar="TEXT", help="What stands where this begins so.")
]


def list_items(
    place: AtOption = None,
    family: Annotated[
        str | None,
        typer.Option(metavar="FAMILY", help="What is, or most likely is, of this family."),
    ] = None,
    sold: SoldOption = False,
    every: AllOption = False,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
    as_json: JsonOption = False,
) -> None:
    """List what is for sale, or was sold."""
    path = asked_stock(catalog, demo)
    items = _chosen(path, sold, every, place)
    if family is not None:
        wanted = _family(path, items, family)
        items = [item for item in items if item.now.family == wanted]
    if as_json:
        from cogtally.show.screen import print_json
        from cogtally.show.stock.json import items_json

        print_json(items_json(items, str(path)))
        return
    from cogtally.show.screen import console_for
    from cogtally.show.stock.screen import show_list

    show_list(items, console_for(), none=_none(sold, bool(place or family)))


def show(
    number: Annotated[
        str | None, typer.Argument(metavar="ITEM", show_default=False, help="Its number.")
    ] = None,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
    as_json: JsonOption = False,
) -> None:
    """Show all that is kept of one item."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock.book import LIST, read_item
    from cogtally.shelf.stock.items import parse_number

    if number is None:
        raise UserError("ITEM is missing", "cogtally stock show", f"write its number; {LIST}")
    item = read_item(path, parse_number(number))
    if as_json:
        from cogtally.show.screen import print_json
        from cogtally.show.stock.json import item_json

        print_json({"format": 1, "book": str(path), **item_json(item)})
        return
    from cogtally.show.screen import console_for
    from cogtally.show.stock.screen import show_item

    show_item(item, console_for())


def find(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="WORDS…",
            show_default=False,
            help="Part of a name, place, note or mark, as well as you remember it; or teeth: "
            "28 24 along the axis, 28/_ or 3=24/21 of a pair.",
        ),
    ] = None,
    place: AtOption = None,
    sold: SoldOption = False,
    every: AllOption = False,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
    as_json: JsonOption = False,
) -> None:
    """Find items by words, teeth or place. Exit code 1 if there are none."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock.find import find_items, parse_wanted

    if not words and not place:
        mend = "write a part of a name or a note, teeth (28 24) or --place"
        raise UserError("nothing to look for was written", "cogtally stock find", mend)
    wanted = parse_wanted(words or [])
    hits = find_items(_chosen(path, sold, every, place), wanted)
    if as_json:
        from cogtally.show.screen import print_json
        from cogtally.show.stock.json import found_json

        print_json(found_json(hits, str(path)))
    else:
        from cogtally.show.screen import console_for
        from cogtally.show.stock.screen import show_found

        show_found(hits, console_for())
    if not hits:
        raise typer.Exit(FOUND_NOTHING)


def export(
    file: Annotated[
        str | None,
        typer.Argument(
            metavar="FILE", show_default=False, help="A file that ends in .csv or .json."
        ),
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Write over a file that is there already.")
    ] = False,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
) -> None:
    """Write all items into a file. Sold ones too, a row each, what was typed as typed."""
    path = asked_stock(catalog, demo)
    import json

    from cogtally.shelf.stock.book import read_items
    from cogtally.show.catalog.differences import count_of
    from cogtally.show.drawing.files import asked_file, write_whole
    from cogtally.show.screen import console_for, plain
    from cogtally.show.stock.json import items_csv, items_json

    if not file:
        mend = "name a file that ends in .csv or .json"
        raise UserError("FILE is missing", "cogtally stock export", mend)
    out = asked_file(file, "export", (".csv", ".json"))
    if out.exists() and not replace:
        mend = "nothing was written; --replace writes over it"
        raise UserError("the file is there already", file, mend)
    items = read_items(path)
    text = items_csv(items)
    if out.suffix.lower() == ".json":
        text = json.dumps(items_json(items, str(path)), indent=2, ensure_ascii=False) + "\n"
    write_whole(text.encode("utf-8"), out)
    now_written(f"{file} is written")
    said = f"Wrote {count_of(len(items), 'item')}: {plain(file)}"
    console_for().print(said, soft_wrap=True)


def _chosen(path: Path, sold: bool, every: bool, place: str | None) -> list[Item]:
    """The items that are for sale, or those sold, or all; at a place."""
    from cogtally.shelf.stock.book import read_items
    from cogtally.shelf.stock.find import stands_at

    if sold and every:
        raise UserError("--sold and --all are two lists", mend="write one of them")
    return [
        item
        for item in read_items(path)
        if (every or (item.sale is not None) == sold) and (place is None or stands_at(item, place))
    ]


def _family(path: Path, items: list[Item], text: str) -> str:
    """The id of a family that items are called after, or that the catalog has."""
    if any(item.now.family == text for item in items):
        return text
    from cogtally.catalog.changes.partly import partly_read
    from cogtally.catalog.find import find_family

    return find_family(partly_read(path), text).id


def _none(sold: bool, filtered: bool) -> str:
    if filtered:
        return "No item of the stock is that."
    if sold:
        return "Nothing was sold yet."
    return "The stock is empty. 'cogtally stock add 28 24 19 14 12' puts a loose piece into it."
