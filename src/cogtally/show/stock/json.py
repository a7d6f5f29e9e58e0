"""Items of the stock for machines: JSON, and rows for a spreadsheet.

Keys are added, never changed, within a format number. What was typed stays as typed.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from cogtally.gears.errors import text_cell
from cogtally.gears.notation import written_count
from cogtally.shelf import stock
from cogtally.show.screen import FORMAT, keys_of, known_of, money_json

#: The columns of a sheet of items.
COLUMNS = (
    *("item", "kind", "seen", "role", "only_family", "marks", "features", "name", "verdict"),
    *("family", "piece", "teeth", "sets", "probability", "name_then", "probability_then"),
    *("condition", "place", "price", "currency", "photo", "note", "added", "changed", "labelled"),
    *("sold", "sold_to", "sold_price", "sold_currency", "sold_note"),
)


def items_json(items: Iterable[stock.Item], book: str) -> dict[str, Any]:
    """Return items as plain values; `book` is the path of the book that they stand in."""
    return {"format": FORMAT, "book": book, "items": [item_json(item) for item in items]}


def sold_json(items: Sequence[stock.Item], book: str) -> dict[str, Any]:
    """Return sold items as plain values, with the sums of each month and currency."""
    months = [
        {
            **keys_of(month, "month", "items"),
            "sums": {currency: str(amount) for currency, amount in month.sums},
            "unpriced": month.unpriced,
        }
        for month in stock.month_sums(items)
    ]
    return {**items_json(items, book), "months": months}


def arrivals_json(
    found: stock.Arrivals,
    added: Iterable[stock.Item],
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


def _arrival(one: stock.Arrival) -> dict[str, Any]:
    return {
        **keys_of(one, "row=line", "item=label", "kind=thing.kind", "seen=thing.text"),
        **keys_of(one, "quantity", "name=named.name", "probability=named.probability"),
        "wanted": wanted_json(one.wanted),
    }


def wants_json(wants: Iterable[stock.Want]) -> list[dict[str, Any]]:
    """Return what is looked for as plain values."""
    return [
        {**keys_of(want, "family", "set", "piece"), **known_of(want, "type", "up_to", "currency")}
        for want in wants
    ]


def wanted_json(found: Iterable[stock.Wanted]) -> list[dict[str, Any]]:
    """Return which of all that is looked for a piece is, each with its probability."""
    return [
        {**told, **keys_of(one, "probability", "completes")}
        for one in found
        for told in wants_json([one.want])
    ]


def item_json(item: stock.Item) -> dict[str, Any]:
    """Return one item as plain values: what was typed, what it parses to, what it is called."""
    thing, details, sale = item.thing, item.details, item.sale
    return {
        **keys_of(item, "item=number", "kind", "seen=thing.text"),
        **stock.parsed(thing),
        **known_of(thing, "role", "only_family"),
        **keys_of(thing, "marks", "features"),
        **known_of(details, "condition", "place"),
        **money_json(details.price),
        **known_of(details, "photo", "note"),
        **keys_of(item, "added", "changed"),
        **known_of(item, "labelled"),
        "sold": None
        if sale is None
        else {"at": sale.at, "to": sale.to or None, **money_json(sale.price), "note": sale.note},
        "then": named_json(item.then),
        "now": named_json(item.now),
    }


def item_document(item: stock.Item, book: Path) -> dict[str, Any]:
    """Return one item of a book as a document."""
    return {"format": FORMAT, "book": str(book), **item_json(item)}


def named_json(named: stock.Named) -> dict[str, Any]:
    """Return what an item is called as plain values."""
    return {
        **keys_of(named, "name", "verdict"),
        **known_of(named, "family", "piece"),
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


def found_json(hits: Iterable[stock.Hit], book: str) -> dict[str, Any]:
    """Return items that were found; `likeness` is 0 to 1."""
    return {
        "format": FORMAT,
        "book": book,
        "found": [
            {"likeness": hit.likeness / 100, "because": hit.because, **item_json(hit.item)}
            for hit in hits
        ],
    }


def recheck_json(done: stock.Recheck, book: str, *, dry_run: bool) -> dict[str, Any]:
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


def items_csv(items: Iterable[stock.Item]) -> str:
    """Return items as a sheet, one row each, separated by commas."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for item in items:
        writer.writerow(text_cell(v) if isinstance(v, str) else v for v in _row(item))
    return out.getvalue()


def _row(item: stock.Item) -> Sequence[object]:
    thing, details, sale, now = item.thing, item.details, item.sale, item.now
    price = details.price
    paid = sale.price if sale else None
    return (
        *(item.number, item.kind, thing.text, thing.role, thing.only_family),
        *("; ".join(thing.marks), "; ".join(thing.features), now.name, now.verdict),
        # With spaces: a spreadsheet makes a date of 10-12.
        *(now.family, now.piece, " ".join(map(written_count, now.teeth)), " ".join(now.sets)),
        *(now.probability, item.then.name, item.then.probability),
        *(details.condition, details.place),
        *((price.amount, price.currency) if price else ("", "")),
        *(details.photo, details.note, item.added, item.changed, item.labelled),
        *((sale.at, sale.to) if sale else ("", "")),
        *((paid.amount, paid.currency) if paid else ("", "")),
        sale.note if sale else "",
    )
