"""An item as text to be changed by hand, and the item that changed values make of it.

Writing it into the book is left to `stock`, the editor to the command line.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from cogtally.gears.errors import UserError
from cogtally.gears.printed import shown
from cogtally.shelf.stock.items import (
    Details,
    Item,
    Money,
    Sale,
    new_thing,
    parse_money,
    whole_text,
)

#: Keys of an item that are texts, and those that are lists of them.
TEXTS = ("seen", "role", "family", "condition", "place", "price", "currency", "photo", "note")
LISTS = ("marks", "features")

Values = Mapping[str, Any]


def values_of(item: Item) -> dict[str, Any]:
    """Return all of an item that may be changed, by the keys of its text."""
    thing, details = item.thing, item.details
    found: dict[str, Any] = {
        "seen": thing.text,
        "role": thing.role,
        "family": thing.only_family,
        "marks": list(thing.marks),
        "features": list(thing.features),
        "condition": details.condition,
        "place": details.place,
        "price": details.price.amount if details.price else "",
        "currency": details.price.currency if details.price else "",
        "photo": details.photo,
        "note": details.note,
    }
    if item.sale is not None:
        price = item.sale.price
        found |= {
            "sold_to": item.sale.to,
            "sold_price": price.amount if price else "",
            "sold_currency": price.currency if price else "",
            "sold_note": item.sale.note,
        }
    return found


def text_of(item: Item) -> str:
    """Return an item as TOML to be edited."""
    lines = [f"# item {item.number}, a {item.kind}: {_safe(item.now.name)}"]
    lines += [f"{key} = {_value(value)}" for key, value in values_of(item).items()]
    return "\n".join(lines) + "\n"


def values_in(text: str, item: Item, file: str) -> dict[str, Any]:
    """Return the values that an edited text has; raise UserError for what cannot be read.

    A key that is left out stays as it is.
    """
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        sentence = str(error)
        raise UserError(
            f"this is no TOML: {sentence[:1].lower()}{sentence[1:]}",
            file,
            'write each key as key = "text"',
        ) from None
    except RecursionError:
        raise UserError("this is no item: it is far too deep", file) from None
    known = values_of(item)
    for key, value in found.items():
        if key not in known:
            from cogtally.catalog.find import did_you_mean

            raise UserError(
                "an item has no such key", f"{file}: {shown(key)}", did_you_mean(key, known)
            )
        right = isinstance(value, list) if key in LISTS else isinstance(value, str)
        if not right or (key in LISTS and not all(isinstance(one, str) for one in value)):
            wanted = 'a list of texts: ["LG 3102"]' if key in LISTS else 'a text: "…"'
            raise UserError(f"{key} is to be {wanted}", file, "nothing was changed")
    return found


def changed(item: Item, values: Values) -> Item:
    """Return an item with these values in place of its own; raise UserError for a wrong one.

    What it is called stays: to be named anew where the thing is another.
    """
    old = values_of(item)
    new = {**old, **{key: _whole(key, value) for key, value in values.items()}}
    thing = item.thing
    if any(new[key] != old[key] for key in ("seen", "role", "family", *LISTS)):
        thing = new_thing(
            item.kind,
            new["seen"].split(),
            role=new["role"],
            only_family=new["family"],
            marks=new["marks"],
            features=new["features"],
        )
    price = _price(new["price"], new["currency"], "price")
    details = Details(new["condition"], new["place"], price, new["photo"], new["note"])
    sale = item.sale
    if sale is not None:
        at = _price(new["sold_price"], new["sold_currency"], "sold_price")
        sale = Sale(sale.at, new["sold_to"], at, new["sold_note"])
    return replace(item, thing=thing, details=details, sale=sale)


def _whole(key: str, value: Any) -> Any:
    if key in LISTS:
        return [text for one in value if (text := whole_text(one, key))]
    return whole_text(value, key)


def _price(amount: str, currency: str, key: str) -> Money | None:
    """The price of two keys; without an amount the currency says nothing."""
    return parse_money(amount, currency, key) if amount else None


def _value(value: Any) -> str:
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    # A text of JSON is one of TOML, but for a character that only TOML escapes.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _safe(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)
