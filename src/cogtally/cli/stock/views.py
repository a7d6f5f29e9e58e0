"""`cogtally stock list | show | find | export | label`: look into the stock, and write it out.

What is there is left to the shelf, its look to `show`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from cogtally.cli import options
from cogtally.cli.known import asked_number, asked_stock
from cogtally.cli.options import argument, flag, option
from cogtally.cli.output import now_written
from cogtally.cli.report import write_picture
from cogtally.gears.errors import UserError
from cogtally.gears.recover import parse_whole
from cogtally.show.screen import console_for, count_of, plain, print_json, show_or_json

if TYPE_CHECKING:
    from cogtally.shelf.stock import Item


FOUND_NOTHING = 1

AT: Any = option("TEXT", "What stands where this begins so.", "--place")


def list_items(
    place: str | None = AT,
    family: str | None = option("FAMILY", "What is, or most likely is, of this family."),
    sold: bool = options.SOLD,
    every: bool = options.ALL,
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """List what is for sale, or was sold."""
    path = asked_stock(catalog, demo)
    items = _chosen(path, sold, every, place)
    if family is not None:
        wanted = _family(path, items, family)
        items = [item for item in items if item.now.family == wanted]
    from cogtally.show.stock import items_json, show_list, sold_json

    none = "The stock is empty. 'cogtally stock add 28 24 19 14 12' puts a loose piece into it."
    if place or family:
        none = "No item of the stock is that."
    elif sold:
        none = "Nothing was sold yet."
    show_or_json(
        as_json,
        lambda: (sold_json if sold else items_json)(items, str(path)),
        lambda console: show_list(items, console, none=none),
    )


def show(
    number: str | None = options.ITEM,
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Show all that is kept of one item."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import read_item
    from cogtally.show.stock import item_document, show_item

    item = read_item(path, asked_number(number, "show"))
    show_or_json(
        as_json, lambda: item_document(item, path), lambda console: show_item(item, console)
    )


def find(
    words: list[str] | None = argument(
        "WORDS…",
        "Part of a name, place, note or mark, as well as you remember it; or teeth: 28 24 along "
        "the axis, 28/_ or 3=24/21 of a pair.",
    ),
    place: str | None = AT,
    sold: bool = options.SOLD,
    every: bool = options.ALL,
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Find items by words, teeth or place. Exit code 1 if there are none."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import find_items, parse_wanted

    if not words and not place:
        mend = "write a part of a name or a note, teeth (28 24) or --place"
        raise UserError("nothing to look for was written", "cogtally stock find", mend)
    wanted = parse_wanted(words or [])
    hits = find_items(_chosen(path, sold, every, place), wanted)
    from cogtally.show.stock import found_json, show_found

    show_or_json(
        as_json, lambda: found_json(hits, str(path)), lambda console: show_found(hits, console)
    )
    if not hits:
        raise typer.Exit(FOUND_NOTHING)


def export(
    file: str | None = argument("FILE", "A file that ends in .csv or .json."),
    force: bool = options.FORCE,
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
) -> None:
    """Write all items into a file. Sold ones too, a row each, what was typed as typed."""
    path = asked_stock(catalog, demo)
    import json

    from cogtally.shelf.stock import read_items
    from cogtally.show.drawing import asked_file
    from cogtally.show.stock import items_csv, items_json
    from cogtally.store import refuse_there, write_whole

    if not file:
        mend = "name a file that ends in .csv or .json"
        raise UserError("FILE is missing", "cogtally stock export", mend)
    out = asked_file(file, "export", (".csv", ".json"))
    refuse_there([out], force)
    items = read_items(path)
    text = items_csv(items)
    if out.suffix.lower() == ".json":
        text = json.dumps(items_json(items, str(path)), indent=2, ensure_ascii=False) + "\n"
    write_whole({out: text.encode("utf-8")})
    now_written(f"{file} is written")
    said = f"Wrote {count_of(len(items), 'item')}: {plain(file)}"
    console_for().print(said, soft_wrap=True)


def _chosen(path: Path, sold: bool, every: bool, place: str | None) -> list[Item]:
    """The items that are for sale, or those sold, or all; at a place."""
    from cogtally.shelf.stock import read_items, stands_at

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
    from cogtally.catalog.book import partly_read
    from cogtally.catalog.find import find_family

    return find_family(partly_read(path), text).id


_LABEL = "cogtally stock label"


def label(
    numbers: list[str] | None = argument("ITEM", "Their numbers."),
    all_new: bool = flag("--all-new", "All that is for sale and never had a label."),
    out: str | None = option("FILE.pdf", "Where to write them."),
    grid: str | None = option("ROWSxCOLUMNS", "A sheet: 8x3 is eight rows of three."),
    size: str | None = option("WxH", "A roll: one label a page, 60x30 mm wide and high."),
    page: str = option("SIZE", "The sheet: a4, letter or 210x297 mm.", default="a4"),
    margin: str | None = option("MM", "Above and below, then at the sides: 13x5. If not given: 8."),
    gap: str | None = option("MM", "Between rows, then columns: 0x2.5. If not given: 0."),
    start: str | None = option("N", "The first free label of a part-used sheet, row by row."),
    link: str | None = option(
        "ADDRESS",
        "What stands in the codes: your own address, https://example.org/{item}. If not given: "
        "cogtally:item:12.",
    ),
    force: bool = options.FORCE,
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Make labels to print.

    They have the name, teeth, place and price of items, and a code of their numbers. The PDF is in
    millimetres: print it at its actual size.
    """
    path = asked_stock(catalog, demo)
    from cogtally.show.drawing import PDF, asked_file
    from cogtally.show.labels import asked_link, asked_sheet, labels_drawing, small_labels

    if out is None:
        raise UserError("--out is missing", _LABEL, "write --out FILE.pdf")
    file = asked_file(out, "--out", (PDF,), force=force)
    address = asked_link(link)
    sheet = asked_sheet(grid, size, page, margin, gap)
    first = 1 if start is None else parse_whole(start, "--start", 5)
    if not 1 <= first <= sheet.rows * sheet.columns:
        mend = f"a page has labels 1 to {sheet.rows * sheet.columns}"
        raise UserError("the page has no such label", f"--start {first}", mend)
    items = _asked_items(path, numbers or [], all_new)
    small: list[str] = []
    pages = 0
    if items:
        from cogtally.shelf.stock import labels_of, naming_of, stock_writing

        drawing = labels_drawing(labels_of(items, naming_of(path)), sheet, first, address)
        small, pages = small_labels(drawing), len(drawing.pages)
        write_picture(drawing, file)
        numbered = ", ".join(str(item.number) for item in items[:5])
        what = f"stock label: {numbered}{f' and {len(items) - 5} more' if items[5:] else ''}"
        with stock_writing(path, what) as stock:
            there = {item.number for item in stock.items()}
            for number in sorted(there.intersection(item.number for item in items)):
                stock.put_labelled(number)
    if as_json:
        found = [item.number for item in items]
        print_json({"format": 1, "file": out, "items": found, "pages": pages, "small": small})
        return
    from cogtally.show.screen import say, say_end

    console = console_for()
    if not items:
        say(console, "Every item has had a label; nothing was written.")
        return
    told = f"{count_of(len(items), 'label')} on {count_of(pages, 'page')}"
    console.print(f"Wrote {told}: {plain(out)}", soft_wrap=True)
    say(console, "Print at the actual size, not fitted to the page.")
    if small:
        say(console, f"The text came out very small on {', '.join(dict.fromkeys(small))}.")
    say_end(console)


def _asked_items(path: Path, numbers: list[str], all_new: bool) -> list[Item]:
    """The items asked for, in that order; or those for sale that never had a label."""
    from cogtally.shelf.stock import LIST, parse_number, read_items

    if bool(numbers) == all_new:
        mend = f"write their numbers, or --all-new; {LIST}"
        raise UserError("say which items are to have a label", _LABEL, mend)
    there = {item.number: item for item in read_items(path)}
    if all_new:
        return [item for item in there.values() if item.sale is None and not item.labelled]
    wanted = [parse_number(text) for text in numbers]
    for number in wanted:
        if number not in there:
            raise UserError("the stock has no such item", f"item {number}", LIST)
    return [there[number] for number in wanted]
