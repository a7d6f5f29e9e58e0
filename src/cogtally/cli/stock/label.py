"""`cogtally stock label`: labels to print, for a sheet or for a roll.

What a label says is left to the shelf, where it stands to `show`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cogtally.cli.common.options import BookOption, JsonOption, NoDemoOption
from cogtally.cli.common.output import now_written
from cogtally.cli.stock.book import asked_stock
from cogtally.gears.errors import UserError
from cogtally.gears.recover import parse_whole

if TYPE_CHECKING:
    from pathlib import Path

    from cogtally.shelf.stock.items import Item

PLACE = "cogtally stock label"


def label(
    numbers: Annotated[
        list[str] | None,
        typer.Argument(metavar="ITEM", show_default=False, help="Their numbers."),
    ] = None,
    all_new: Annotated[
        bool, typer.Option("--all-new", help="All that is for sale and never had a label.")
    ] = False,
    out: Annotated[
        str | None, typer.Option("--out", metavar="FILE.pdf", help="Where to write them.")
    ] = None,
    grid: Annotated[
        str | None,
        typer.Option(metavar="ROWSxCOLUMNS", help="A sheet: 8x3 is eight rows of three."),
    ] = None,
    size: Annotated[
        str | None,
        typer.Option(metavar="WxH", help="A roll: one label a page, 60x30 mm wide and high."),
    ] = None,
    page: Annotated[
        str, typer.Option(metavar="SIZE", help="The sheet: a4, letter or 210x297 mm.")
    ] = "a4",
    margin: Annotated[
        str | None,
        typer.Option(
            metavar="MM", help="Above and below, then at the sides: 13x5. If not given: 8."
        ),
    ] = None,
    gap: Annotated[
        str | None,
        typer.Option(metavar="MM", help="Between rows, then columns: 0x2.5. If not given: 0."),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(metavar="N", help="The first free label of a part-used sheet, row by row."),
    ] = None,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
    as_json: JsonOption = False,
) -> None:
    """Make labels to print.

    They have the name, teeth, place and price of items, and a code of their numbers. The PDF is in
    millimetres: print it at its actual size.
    """
    path = asked_stock(catalog, demo)
    from cogtally.show.drawing.files import PDF, asked_file, write_drawing
    from cogtally.show.labels.sheet import asked_sheet

    if out is None:
        raise UserError("--out is missing", PLACE, "write --out FILE.pdf")
    file = asked_file(out, "--out", (PDF,))
    sheet = asked_sheet(grid, size, page, margin, gap)
    first = 1 if start is None else parse_whole(start, "--start", 5)
    if not 1 <= first <= sheet.rows * sheet.columns:
        mend = f"a page has labels 1 to {sheet.rows * sheet.columns}"
        raise UserError("the page has no such label", f"--start {first}", mend)
    items = _asked_items(path, numbers or [], all_new)
    small: list[str] = []
    pages = 0
    if items:
        from cogtally.shelf.stock.book import stock_writing
        from cogtally.shelf.stock.labels import labels_of
        from cogtally.shelf.stock.naming import naming_of
        from cogtally.show.labels.label import labels_drawing, small_labels

        drawing = labels_drawing(labels_of(items, naming_of(path)), sheet, first)
        small, pages = small_labels(drawing), len(drawing.pages)
        write_drawing(drawing, file)
        now_written(f"{out} is written")
        with stock_writing(path, _said(items)) as stock:
            there = {item.number for item in stock.items()}
            for number in sorted(there.intersection(item.number for item in items)):
                stock.put_labelled(number)
    if as_json:
        from cogtally.show.screen import print_json

        found = [item.number for item in items]
        print_json({"format": 1, "file": out, "items": found, "pages": pages, "small": small})
        return
    from cogtally.show.catalog.differences import count_of
    from cogtally.show.screen import console_for, plain
    from cogtally.show.stock.screen import end, say

    console = console_for()
    if not items:
        say(console, "Every item has had a label; nothing was written.")
        return
    told = f"{count_of(len(items), 'label')} on {count_of(pages, 'page')}"
    console.print(f"Wrote {told}: {plain(out)}", soft_wrap=True)
    say(console, "Print at the actual size, not fitted to the page.")
    if small:
        say(console, f"The text came out very small on {', '.join(dict.fromkeys(small))}.")
    end(console)


def _asked_items(path: Path, numbers: list[str], all_new: bool) -> list[Item]:
    """The items asked for, in that order; or those for sale that never had a label."""
    from cogtally.shelf.stock.book import LIST, read_items
    from cogtally.shelf.stock.items import parse_number

    if bool(numbers) == all_new:
        mend = f"write their numbers, or --all-new; {LIST}"
        raise UserError("say which items are to have a label", PLACE, mend)
    there = {item.number: item for item in read_items(path)}
    if all_new:
        return [item for item in there.values() if item.sale is None and not item.labelled]
    wanted = [parse_number(text) for text in numbers]
    for number in wanted:
        if number not in there:
            raise UserError("the stock has no such item", f"item {number}", LIST)
    return [there[number] for number in wanted]


def _said(items: list[Item]) -> str:
    """What the log says of it."""
    numbers = ", ".join(str(item.number) for item in items[:5])
    return f"stock label: {numbers}{f' and {len(items) - 5} more' if items[5:] else ''}"
