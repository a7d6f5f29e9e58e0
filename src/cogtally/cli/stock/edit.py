"""`cogtally stock edit | sell | return | remove`: change an item, sell it, take it back or out.

What an item may be is left to the shelf, its look to `show`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.cli import options
from cogtally.cli.known import asked_money, asked_number, asked_stock, whole_photo
from cogtally.cli.options import flag, option
from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError
from cogtally.show.screen import show_or_json

if TYPE_CHECKING:
    from rich.console import Console

    from cogtally.shelf.stock import Item


def edit(
    number: str | None = options.ITEM,
    seen: str | None = option("TEXT", "What was counted, put right: '28 24 19 14 12'."),
    role: str | None = option("PIECE", "What piece it is."),
    mark: list[str] | None = options.ITEM_MARK,
    feature: list[str] | None = options.ITEM_FEATURE,
    place: str | None = options.PLACE,
    price: str | None = options.PRICE,
    currency: str | None = options.CURRENCY,
    condition: str | None = options.CONDITION,
    photo: str | None = options.PHOTO,
    note: str | None = options.NOTE,
    file: str | None = option("FILE", "Take the text from this file (TOML).", "--from"),
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Change an item.

    By the options given, else as TOML in your editor (VISUAL, else EDITOR). An empty text takes
    something away: --place ''. Where something is wrong nothing is written.
    """
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import read_item

    item = read_item(path, asked_number(number, "edit"))
    given: dict[str, Any] = {
        "seen": seen,
        "role": role,
        "marks": mark,
        "features": feature,
        "place": place,
        "condition": condition,
        "photo": photo,
        "note": note,
        **_money(path, item, price, currency),
    }
    values = {key: value for key, value in given.items() if value is not None}
    if values and file is not None:
        raise UserError("--from and other options are two ways to edit", mend="use one of them")
    if values:
        new, entry = _written(path, item, values)
    elif file is not None:
        from cogtally.catalog.changes import read_text
        from cogtally.shelf.stock import values_in

        text = read_text(Path(file).expanduser())
        new, entry = _written(path, item, values_in(text, item, str(Path(file))))
    else:
        new, entry = _in_editor(path, item)
    if entry:
        now_written(f"item {item.number} is changed")
    from cogtally.show.stock import show_changed

    _show(path, new, as_json, lambda console: show_changed(new, entry, console))


def sell(
    number: str | None = options.ITEM,
    price: str | None = options.PRICE,
    currency: str | None = options.CURRENCY,
    to: str | None = option("TEXT", "Who bought it."),
    note: str | None = options.NOTE,
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Write that an item was sold. At --price, else at the price that was asked."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import Sale, read_item, stock_writing, whole_text

    wanted = asked_number(number, "sell")
    asked = read_item(path, wanted).details.price
    if currency is None and asked is not None:
        currency = asked.currency if price is not None else None
    paid = asked if price is None and currency is None else asked_money(path, price, currency)
    buyer, said = whole_text(to or "", "--to"), whole_text(note or "", "--note")
    with stock_writing(path, f"stock sell: {wanted}") as stock:
        sold = stock.sell(wanted, Sale(stock.at, buyer, paid, said))
    now_written(f"item {wanted} is sold")
    from cogtally.show.stock import show_sold

    _show(path, sold, as_json, lambda console: show_sold(sold, console))


def take_back(
    number: str | None = options.ITEM,
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Take a sale back. The item is for sale again as it was."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import stock_writing

    wanted = asked_number(number, "return")
    with stock_writing(path, f"stock return: {wanted}") as stock:
        before = stock.take_back(wanted)
        item = stock.item(wanted)
    now_written(f"item {wanted} is for sale again")
    from cogtally.show.stock import show_returned

    _show(path, item, as_json, lambda console: show_returned(before, stock.change.entry, console))


def remove(
    number: str | None = options.ITEM,
    scrapped: bool = flag("--scrapped", "It was thrown away."),
    mistyped: bool = flag("--mistyped", "It was never there."),
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Take an item out of the stock. The log says which of the two it was."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import stock_writing

    wanted = asked_number(number, "remove")
    if scrapped == mistyped:
        raise UserError(
            "say why it goes", f"item {wanted}", "write --scrapped, or --mistyped if it never was"
        )
    why = "scrapped" if scrapped else "mistyped"
    with stock_writing(path, f"stock remove: {wanted}, {why}") as stock:
        item = stock.remove(wanted)
    now_written(f"item {wanted} is removed")
    from cogtally.show.stock import show_removed

    _show(path, item, as_json, lambda console: show_removed(item, why, stock.change.entry, console))


def _show(path: Path, item: Item, as_json: bool, screen: Callable[[Console], None]) -> None:
    from cogtally.show.stock import item_document

    show_or_json(as_json, lambda: item_document(item, path), screen)


def _money(path: Path, item: Item, price: str | None, currency: str | None) -> dict[str, str]:
    """The price that is to be; without an amount the currency of the one that is there."""
    if price is not None and not price.strip():
        return {"price": "", "currency": ""}
    old = item.details.price
    if price is None and currency is not None and old is not None:
        price = old.amount
    if currency is None and old is not None:
        currency = old.currency if price is not None else None
    new = asked_money(path, price, currency)
    return {} if new is None else {"price": new.amount, "currency": new.currency}


def _in_editor(path: Path, item: Item) -> tuple[Item, int]:
    """Have the text edited once; one that was not written stays in its file, which is named."""
    from cogtally.catalog.changes import read_text
    from cogtally.cli.catalog import edit_file, kept_beside
    from cogtally.shelf.stock import text_of, values_in

    text = text_of(item)
    again = f"; 'cogtally stock edit {item.number} --from {{}}' takes it up again"
    with kept_beside(path, f"item-{item.number}", text, again) as file:
        edit_file(file)
        edited = read_text(file)
        if edited == text:
            return item, 0
        return _written(path, item, values_in(edited, item, str(file)))


def _written(path: Path, item: Item, values: dict[str, Any]) -> tuple[Item, int]:
    """Write an item with these values, named anew where what was seen of it is other.

    It is given with the entry of the log, 0 if nothing was changed.
    """
    from dataclasses import replace

    from cogtally.shelf.stock import changed, naming_of, stock_writing, thing_of_catalog

    new = changed(item, values)
    if new == item:
        return item, 0
    if new.details.photo != item.details.photo:
        new = replace(new, details=replace(new.details, photo=whole_photo(new.details.photo)))
    if new.thing != item.thing:
        naming = naming_of(path)
        new = replace(new, thing=thing_of_catalog(naming.catalog, new.thing))
        new = replace(new, now=naming.name(new.thing))
    with stock_writing(path, f"stock edit: {item.number}") as stock:
        if stock.item(item.number) != item:
            mend = "look at it again, and make the change anew"
            raise UserError("the item was changed meanwhile", f"item {item.number}", mend)
        return stock.put(new), stock.change.entry
