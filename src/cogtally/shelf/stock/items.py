"""What stands on the shelf: a loose piece, a pair or a whole box, as typed and as last named.

Also an item as text to be changed by hand, and what changed values make of it. The tables are left
to `book`, what an item is called to `naming`.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from cogtally.gears.errors import UserError, plain, shown
from cogtally.gears.looks import SeenPiece, parse_piece, with_looks
from cogtally.gears.notation import Seen, parse_seen

if TYPE_CHECKING:
    from cogtally.gears.notation import Count


#: Kinds of items.
PIECE, PAIR, BOX = "piece", "pair", "box"

#: So many items alike at most are put into the stock at once.
MOST_ALIKE = 999
#: Longer texts are a slip, such as a file pasted by mistake.
LONGEST_TEXT = 10_000
_AMOUNT = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,4})?", re.ASCII)
#: Three digits behind a comma may be thousands.
_DECIMAL_COMMA = re.compile(r"[0-9]{1,9},[0-9]{1,2}", re.ASCII)
_CURRENCY = re.compile(r"[A-Za-z]{3}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Thing:
    """What an item is, as somebody typed it: the `words` of its counts, its `kind`.

    `role`: the piece that it is said to be, as the catalog calls it; `only_family`: the id of the
    only family asked about; both may be empty. `marks` and `features` are as typed.
    """

    kind: str
    words: tuple[str, ...]
    role: str = ""
    only_family: str = ""
    marks: tuple[str, ...] = ()
    features: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The words as they were typed, on one line: `28 24 19 14 12`, `3=24/21`."""
        return " ".join(self.words)

    @property
    def piece(self) -> SeenPiece:
        """What was seen of a loose piece; raise UserError for words that are none."""
        return with_looks(parse_piece(self.words), self.marks, self.features)

    @property
    def box(self) -> Seen:
        """What was seen on a box or a pair; raise UserError for words that are none."""
        return with_looks(parse_seen(self.words), self.marks, self.features)

    @property
    def places(self) -> tuple[tuple[str, tuple[Count, ...]], ...]:
        """Every wheel with its counts, none for `_`.

        Of a piece in order along the axis, named by their places from 1; else by wheel name in
        the order of writing.
        """
        if self.kind == PIECE:
            return tuple((str(n), counts) for n, counts in enumerate(self.piece.places, start=1))
        found: dict[str, list[Count]] = {}
        for count in self.box.counts:
            found.setdefault(count.wheel, []).append(count)
        return tuple((wheel, tuple(counts)) for wheel, counts in found.items())


@dataclass(frozen=True, slots=True)
class Money:
    """An exact amount as typed, in a currency of three letters."""

    amount: str
    currency: str

    @property
    def value(self) -> Decimal:
        """The amount as a number, exact."""
        return Decimal(self.amount)

    @property
    def text(self) -> str:
        """The amount with its currency: `45.00 GBP`."""
        return f"{self.amount} {self.currency}"


@dataclass(frozen=True, slots=True)
class Details:
    """What is said of an item beside its teeth; empty where nothing is said.

    `photo` is the whole path of a file.
    """

    condition: str = ""
    place: str = ""
    price: Money | None = None
    photo: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Share:
    """One thing that an item may be, with its probability.

    Of a loose piece: a type (`teeth` along the axis, None for a gap) of `piece` of `family`, which
    `sets` carry; one of no listed type has neither. Of a pair or a box: sets of `family` alike so
    far; `piece` and `teeth` are empty.
    """

    family: str
    sets: tuple[str, ...]
    probability: float
    piece: str = ""
    teeth: tuple[int | None, ...] = ()


@dataclass(frozen=True, slots=True)
class Named:
    """What the catalog said of an item at one moment.

    `name`: in words, without the probability. `verdict`: type, piece, matched, narrowed, recount,
    mixed, variant, new, uncatalogued or undecided; `family`, `piece`, `teeth` and `sets` are of the
    leading answer, empty where there is none. `away`: how many teeth the counts are off it in all
    (of an uncatalogued one: off the nearest), None where there is nothing to compare. `shares`:
    falling, the most probable of them. `catalog`: a digest of all that the catalog held, `entry`
    the last change of the catalog in the book's log then; `at` is UTC.
    """

    name: str
    verdict: str
    probability: float
    family: str = ""
    piece: str = ""
    teeth: tuple[int | None, ...] = ()
    sets: tuple[str, ...] = ()
    away: int | None = None
    shares: tuple[Share, ...] = ()
    catalog: str = ""
    entry: int = 0
    at: str = ""


@dataclass(frozen=True, slots=True)
class Sale:
    """That an item was sold: when (UTC), to whom, at what price, with a note."""

    at: str
    to: str = ""
    price: Money | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """One item of the stock, by its number; a number is never given twice.

    `then` is what the catalog said when the item was added, `now` what it said last. `added`,
    `changed` and `labelled` (empty: never) are UTC. `sale` is None while it is not sold.
    """

    number: int
    thing: Thing
    details: Details
    then: Named
    now: Named
    added: str
    changed: str
    labelled: str = ""
    sale: Sale | None = None

    @property
    def kind(self) -> str:
        """Whether it is a piece, a pair or a box."""
        return self.thing.kind


@dataclass(frozen=True, slots=True)
class MonthSum:
    """What was sold in a month, `2026-03`: how many, sums by currency, how many without a price."""

    month: str
    items: int
    sums: tuple[tuple[str, Decimal], ...]
    unpriced: int


def price_sums(items: Iterable[Item]) -> tuple[tuple[tuple[str, Decimal], ...], int]:
    """Return the exact sum of prices in each currency, and how many have none.

    A sold item counts with the price that was paid.
    """
    sums: dict[str, Decimal] = {}
    unpriced = 0
    for item in items:
        price = item.sale.price if item.sale is not None else item.details.price
        if price is None:
            unpriced += 1
        else:
            sums[price.currency] = sums.get(price.currency, Decimal(0)) + price.value
    return tuple(sorted(sums.items())), unpriced


def month_sums(items: Iterable[Item]) -> tuple[MonthSum, ...]:
    """Return what was sold in each month (UTC), the latest first."""
    by_month: dict[str, list[Item]] = {}
    for item in items:
        if item.sale is not None:
            by_month.setdefault(item.sale.at[:7], []).append(item)
    return tuple(
        MonthSum(month, len(some), *price_sums(some))
        for month, some in sorted(by_month.items(), reverse=True)
    )


def new_thing(
    kind: str,
    words: Sequence[str],
    *,
    role: str = "",
    only_family: str = "",
    marks: Sequence[str] = (),
    features: Sequence[str] = (),
) -> Thing:
    """Return what somebody typed of an item; raise UserError for words that cannot be read.

    Something has to be counted or turned; a pair is one pair with a count of each of its wheels
    or a `_` for it.
    """
    thing = Thing(kind, tuple(words), role, only_family, tuple(marks), tuple(features))
    if kind == PIECE:
        if not any(thing.piece.places):
            mend = "an item needs a count: 28 24 19 _ 12"
            raise UserError("nothing was counted", shown(thing.text), mend)
        return thing
    seen = thing.box
    if kind == PAIR:
        if len(words) != 1 or seen.words[0].pair is None:
            mend = "write one pair with its name, for example 3=24/21"
            raise UserError("this is no pair", shown(thing.text), mend)
        if role:
            raise UserError("a pair is no piece of its own", f"--role {shown(role)}")
    elif role:
        raise UserError("a box is no piece", f"--role {shown(role)}", "leave --role out")
    if not seen.counts and not seen.turns:
        mend = "an item needs a count or a turn test: input=17/28 1@4:1.1"
        raise UserError("nothing was counted or turned", shown(thing.text), mend)
    return thing


def kind_of(words: Sequence[str]) -> str:
    """Return whether words are those of a loose piece or of a box."""
    return BOX if any("=" in word or "@" in word for word in words) else PIECE


def parse_money(amount: str, currency: str, option: str = "--price") -> Money:
    """Read a price; raise UserError for what is no exact amount in a currency of three letters."""
    text = amount.strip()
    if _DECIMAL_COMMA.fullmatch(text):
        text = text.replace(",", ".")
    if not _AMOUNT.fullmatch(text):
        mend = "write a number, for example 45 or 45.50"
        raise UserError("this is no price", f"{option} {shown(amount)}", mend)
    letters = currency.strip()
    if not _CURRENCY.fullmatch(letters):
        mend = "write the three letters of a currency, for example GBP"
        raise UserError("this is no currency", f"--currency {shown(currency)}", mend)
    return Money(text, letters.upper())


def whole_text(text: str, what: str) -> str:
    """Return a text that can be kept, without space at its ends; raise UserError where it cannot.

    `what` is the option or key that it was given to.
    """
    found = text.strip()
    if len(found) > LONGEST_TEXT:
        raise UserError(f"the text has more than {LONGEST_TEXT:,} characters", what)
    try:
        found.encode("utf-8")
    except UnicodeEncodeError:
        raise UserError("the text is not UTF-8", what, "write it anew") from None
    if "\0" in found:
        raise UserError("the text holds a zero character", what, "write it anew")
    return found


def parse_quantity(text: str | None) -> int:
    """Return how many alike are put there, 1 if not written; raise UserError."""
    if text is None:
        return 1
    digits = text.strip()
    if not (digits.isascii() and digits.isdigit() and len(digits) <= 6):
        raise UserError("this is no number", f"--quantity {shown(text)}", "write 1 or more")
    if not 1 <= int(digits) <= MOST_ALIKE:
        mend = f"write 1 to {MOST_ALIKE}"
        raise UserError("so many are not put there at once", f"--quantity {digits}", mend)
    return int(digits)


def parse_number(text: str) -> int:
    """Read the number of an item, `12` or `#12`; raise UserError."""
    digits = text.strip().removeprefix("#")
    if not (digits.isascii() and digits.isdigit() and len(digits) <= 15):
        mend = "'cogtally stock list' lists them"
        raise UserError("this is no number of an item", shown(text), mend)
    return int(digits)


#: Keys of an item that are lists of texts; all others are texts.
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
    lines = [f"# item {item.number}, a {item.kind}: {plain(item.now.name)}"]
    lines += [f"{key} = {_value(value)}" for key, value in values_of(item).items()]
    return "\n".join(lines) + "\n"


def values_in(text: str, item: Item, file: str) -> dict[str, Any]:
    """Return the values that an edited text has; raise UserError for what cannot be read.

    A key that is left out stays as it is.
    """
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        why = str(error)
        sentence = f"this is no TOML: {why[:1].lower()}{why[1:]}"
        raise UserError(sentence, file, 'write each key as key = "text"') from None
    except RecursionError:
        raise UserError("this is no item: it is far too deep", file) from None
    known = values_of(item)
    for key, value in found.items():
        if key not in known:
            from cogtally.catalog.find import did_you_mean

            mend = did_you_mean(key, known)
            raise UserError("an item has no such key", f"{file}: {shown(key)}", mend)
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
    new = dict(old)
    for key, value in values.items():
        if key in LISTS:
            new[key] = [text for one in value if (text := whole_text(one, key))]
        else:
            new[key] = whole_text(value, key)
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


def _price(amount: str, currency: str, key: str) -> Money | None:
    """The price of two keys; without an amount the currency says nothing."""
    return parse_money(amount, currency, key) if amount else None


def _value(value: Any) -> str:
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    # A text of JSON is one of TOML, but for a character that only TOML escapes.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
