"""Items of the stock for machines: JSON, and rows for a spreadsheet.

Keys are added, never changed, within a format number. What was typed stays as typed.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.gears.errors import text_cell
from cogtally.shelf.stock import Item, Named, month_sums, parsed
from cogtally.show.screen import FORMAT, keys_of, money_json

if TYPE_CHECKING:
    from cogtally.shelf.stock import Arrival, Arrivals, Hit, Recheck, Want, Wanted

#: The columns of a sheet of items.
COLUMNS = (
    *("item", "kind", "seen", "role", "only_family", "marks", "features", "name", "verdict"),
    *("family", "piece", "teeth", "sets", "probability", "name_then", "probability_then"),
    *("condition", "place", "price", "currency", "photo", "note", "added", "changed", "labelled"),
    *("sold", "sold_to", "sold_price", "sold_currency", "sold_note"),
)


def items_json(items: Iterable[Item], book: str) -> dict[str, Any]:
    """Return items as plain values; `book` is the path of the book that they stand in."""
    return {"format": FORMAT, "book": book, "items": [item_json(item) for item in items]}


def sold_json(items: Sequence[Item], book: str) -> dict[str, Any]:
    """Return sold items as plain values, with the sums of each month and currency."""
    months = [
        {
            **keys_of(month, "month", "items"),
            "sums": {currency: str(amount) for currency, amount in month.sums},
            "unpriced": month.unpriced,
        }
        for month in month_sums(items)
    ]
    return {**items_json(items, book), "months": months}


def arrivals_json(
    found: Arrivals,
    added: Iterable[Item],
    refused: Iterable[dict[str, object]],
    book: str,
    *,
    dry_run: bool,
) -> dict[str, Any]:
    """Return what a file put into the stock, or would; rows `known` from before were left out."""
    told = {
        **items_json(added, book),
        "refused": list(refused),
        "wanted": [{"row": a.line, **told} for a in found.new for told in wanted_json(a.wanted)],
        "known": [_arrival(one) for one in found.known],
    }
    if dry_run:
        told |= {"dry_run": True, "would_add": [_arrival(one) for one in found.new]}
    return told


def _arrival(one: Arrival) -> dict[str, Any]:
    return {
        "row": one.line,
        "item": one.label,
        "kind": one.thing.kind,
        "seen": one.thing.text,
        "quantity": one.quantity,
        "name": one.named.name,
        "probability": one.named.probability,
        "wanted": wanted_json(one.wanted),
    }


def wants_json(wants: Iterable[Want]) -> list[dict[str, Any]]:
    """Return what is looked for as plain values."""
    return [
        {
            **keys_of(want, "family", "set", "piece"),
            "type": want.type or None,
            "up_to": want.up_to or None,
            "currency": want.currency or None,
        }
        for want in wants
    ]


def wanted_json(found: Iterable[Wanted]) -> list[dict[str, Any]]:
    """Return which of all that is looked for a piece is, each with its probability."""
    return [
        {**told, "probability": one.probability, "completes": one.completes}
        for one in found
        for told in wants_json([one.want])
    ]


def item_json(item: Item) -> dict[str, Any]:
    """Return one item as plain values: what was typed, what it parses to, what it is called."""
    thing, details, sale = item.thing, item.details, item.sale
    return {
        "item": item.number,
        "kind": item.kind,
        "seen": thing.text,
        **parsed(thing),
        "role": thing.role or None,
        "only_family": thing.only_family or None,
        **keys_of(thing, "marks", "features"),
        "condition": details.condition or None,
        "place": details.place or None,
        **money_json(details.price),
        "photo": details.photo or None,
        "note": details.note or None,
        **keys_of(item, "added", "changed"),
        "labelled": item.labelled or None,
        "sold": None
        if sale is None
        else {"at": sale.at, "to": sale.to or None, **money_json(sale.price), "note": sale.note},
        "then": named_json(item.then),
        "now": named_json(item.now),
    }


def item_document(item: Item, book: Path) -> dict[str, Any]:
    """Return one item of a book as a document."""
    return {"format": FORMAT, "book": str(book), **item_json(item)}


def named_json(named: Named) -> dict[str, Any]:
    """Return what an item is called as plain values."""
    return {
        **keys_of(named, "name", "verdict"),
        "family": named.family or None,
        "piece": named.piece or None,
        **keys_of(named, "teeth", "sets", "probability", "away"),
        "shares": [
            {
                "family": share.family,
                "piece": share.piece or None,
                **keys_of(share, "teeth", "sets", "probability"),
            }
            for share in named.shares
        ],
        **keys_of(named, "catalog", "at"),
    }


def found_json(hits: Iterable[Hit], book: str) -> dict[str, Any]:
    """Return items that were found; `likeness` is 0 to 1."""
    return {
        "format": FORMAT,
        "book": book,
        "found": [
            {"likeness": hit.likeness / 100, "because": hit.because, **item_json(hit.item)}
            for hit in hits
        ],
    }


def recheck_json(done: Recheck, book: str, *, dry_run: bool) -> dict[str, Any]:
    """Return what a recheck came to: every item that is called otherwise now."""
    from cogtally.show.catalog import differences_json

    return {
        "format": FORMAT,
        "book": book,
        "dry_run": dry_run,
        "checked": len(done.all),
        "moved": len(done.moved),
        "renamed": [
            {
                "item": one.item.number,
                "before": named_json(one.before),
                "after": named_json(one.after),
                "because": differences_json(one.because),
            }
            for one in done.renamed
        ],
    }


def items_csv(items: Iterable[Item]) -> str:
    """Return items as a sheet, one row each, separated by commas."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for item in items:
        writer.writerow(text_cell(v) if isinstance(v, str) else v for v in _row(item))
    return out.getvalue()


def _row(item: Item) -> Sequence[object]:
    thing, details, sale, now = item.thing, item.details, item.sale, item.now
    price = details.price
    paid = sale.price if sale else None
    return (
        item.number,
        item.kind,
        thing.text,
        thing.role,
        thing.only_family,
        "; ".join(thing.marks),
        "; ".join(thing.features),
        now.name,
        now.verdict,
        now.family,
        now.piece,
        # With spaces: a spreadsheet makes a date of 10-12.
        " ".join("_" if teeth is None else str(teeth) for teeth in now.teeth),
        " ".join(now.sets),
        now.probability,
        item.then.name,
        item.then.probability,
        details.condition,
        details.place,
        price.amount if price else "",
        price.currency if price else "",
        details.photo,
        details.note,
        item.added,
        item.changed,
        item.labelled,
        sale.at if sale else "",
        sale.to if sale else "",
        paid.amount if paid else "",
        paid.currency if paid else "",
        sale.note if sale else "",
    )
