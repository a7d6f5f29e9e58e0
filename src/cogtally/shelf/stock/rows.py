"""Items and what they are called as rows of the book's tables, and back.

When rows are read and written is left to `stock`. What a person typed is kept as typed; `counts`
and `turns` hold what it parses to.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from cogtally.shelf.stock.items import PIECE, Details, Item, Money, Named, Sale, Share, Thing

ITEMS, ANSWERS = "items", "item_answers"
#: The moments of an answer: when the item was added, and last.
THEN, NOW = "then", "now"

Row = dict[str, str | int | float | None]


def item_row(item: Item) -> Row:
    """Return the row of an item, what it is called left out."""
    thing, details, sale = item.thing, item.details, item.sale
    says = parsed(thing)
    return {
        "id": item.number,
        "kind": thing.kind,
        "seen": thing.text,
        "counts": _kept(says["counts"]),
        "turns": _kept(says["turns"]),
        "role": thing.role,
        "only_family": thing.only_family,
        "marks": _kept(thing.marks),
        "features": _kept(thing.features),
        "condition": details.condition,
        "place": details.place,
        "price": details.price.amount if details.price else None,
        "currency": details.price.currency if details.price else None,
        "photo": details.photo,
        "note": details.note,
        "added": item.added,
        "changed": item.changed,
        "labelled": item.labelled or None,
        "sold": sale.at if sale else None,
        "sold_to": sale.to if sale else None,
        "sold_price": sale.price.amount if sale and sale.price else None,
        "sold_currency": sale.price.currency if sale and sale.price else None,
        "sold_note": sale.note if sale else None,
    }


def answer_row(number: int, moment: str, named: Named) -> Row:
    """Return the row of what an item is called at a moment."""
    return {
        "item": number,
        "moment": moment,
        "name": named.name,
        "verdict": named.verdict,
        "family": named.family or None,
        "piece": named.piece or None,
        "teeth": _kept(named.teeth),
        "sets": _kept(named.sets),
        "probability": named.probability,
        "away": named.away,
        "shares": _kept(
            [
                {
                    "family": s.family,
                    "piece": s.piece or None,
                    "teeth": s.teeth or None,
                    "sets": s.sets,
                    "probability": s.probability,
                }
                for s in named.shares
            ]
        ),
        "catalog": named.catalog,
        "entry": named.entry,
        "at": named.at,
    }


def item_of(row: Mapping[str, Any], then: Mapping[str, Any], now: Mapping[str, Any]) -> Item:
    """Return the item of a row and its two answers; ValueError or such if it is none."""
    sale = None
    if row["sold"] is not None:
        price = _money(row["sold_price"], row["sold_currency"])
        sale = Sale(row["sold"], row["sold_to"] or "", price, row["sold_note"] or "")
    return Item(
        number=row["id"],
        thing=Thing(
            kind=row["kind"],
            words=tuple(row["seen"].split()),
            role=row["role"],
            only_family=row["only_family"],
            marks=_tuple(row["marks"]),
            features=_tuple(row["features"]),
        ),
        details=Details(
            condition=row["condition"],
            place=row["place"],
            price=_money(row["price"], row["currency"]),
            photo=row["photo"],
            note=row["note"],
        ),
        then=named_of(then),
        now=named_of(now),
        added=row["added"],
        changed=row["changed"],
        labelled=row["labelled"] or "",
        sale=sale,
    )


def named_of(row: Mapping[str, Any]) -> Named:
    """Return what an item is called, of a row."""
    return Named(
        name=row["name"],
        verdict=row["verdict"],
        probability=row["probability"],
        family=row["family"] or "",
        piece=row["piece"] or "",
        teeth=_tuple(row["teeth"]),
        sets=_tuple(row["sets"]),
        away=row["away"],
        shares=tuple(
            Share(
                family=share["family"],
                sets=tuple(share["sets"]),
                probability=share["probability"],
                piece=share["piece"] or "",
                teeth=tuple(share["teeth"] or ()),
            )
            for share in _tuple(row["shares"])
        ),
        catalog=row["catalog"],
        entry=row["entry"],
        at=row["at"],
    )


def parsed(thing: Thing) -> dict[str, Any]:
    """Return what the words of a thing say, as plain values: `counts` and `turns`.

    A count: its place or wheel, teeth (None for `_`), whether unsure, how often. A turn test: the
    gears, turns in and out as exact fractions, `held` for an axle with one wheel held.
    """
    counts: list[Mapping[str, Any]] = []
    by = "place" if thing.kind == PIECE else "wheel"
    for name, found in thing.places:
        where = int(name) if thing.kind == PIECE else name
        counts += [
            {by: where, "teeth": c.teeth, "unsure": c.unsure, "times": c.times} for c in found
        ] or [{by: where, "teeth": None, "unsure": False, "times": 0}]
    turns = (
        []
        if thing.kind == PIECE
        else [
            {
                "gears": list(turn.gears),
                "in": str(turn.turns_in),
                "out": str(turn.turns_out),
                "held": turn.held,
            }
            for turn in thing.box.turns
        ]
    )
    return {"counts": counts, "turns": turns}


def _money(amount: str | None, currency: str | None) -> Money | None:
    return None if amount is None or currency is None else Money(amount, currency)


def _tuple(kept: str | None) -> tuple[Any, ...]:
    return tuple(json.loads(kept)) if kept else ()


def _kept(value: Any) -> str | None:
    """Return a list as JSON; None for an empty one."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")) if value else None
