"""Rows of a file as items that come into the stock, and which of them came before.

How a text is parted into rows is left to `batch`, writing items to `book`. A row is known by what
it calls its item and by its content, as the log of the book has it from when it was added.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from cogtally.gears.errors import UserError
from cogtally.shelf import batch
from cogtally.shelf.stock import items
from cogtally.shelf.stock.book import item_row
from cogtally.shelf.stock.naming import Naming, thing_of_catalog
from cogtally.shelf.stock.wants import Want, Wanted, wanted_among

QUANTITY, NOTE = "quantity", "note"
PLACE, PRICE, CURRENCY, CONDITION, PHOTO = "place", "price", "currency", "condition", "photo"
#: What an item is, in one of these columns, and all that may be said of it.
SEEN_IN = (batch.COUNTS, batch.SEEN, items.PAIR)
OF_SEEN = (batch.ITEM, *SEEN_IN, batch.ROLE, batch.FAMILY, batch.MARK, batch.FEATURE)
COLUMNS = (*OF_SEEN, PLACE, PRICE, CURRENCY, CONDITION, PHOTO, NOTE, QUANTITY)
#: Parts what a row calls its item from its note.
BEHIND_LABEL = "; "
#: Columns of an item that are the content of its row.
_CONTENT = (
    *("kind", "seen", "role", "only_family", "marks", "features"),
    *("condition", "place", "price", "currency", "photo", "note"),
)


@dataclass(frozen=True, slots=True)
class Arrival:
    """One row as it goes into the stock: so many items alike; `label` is what it calls its item.

    `wanted`: what of all that is looked for it may be, and how probably.
    """

    line: int
    label: str
    thing: items.Thing
    details: items.Details
    named: items.Named
    quantity: int
    wanted: tuple[Wanted, ...] = ()

    @property
    def content(self) -> tuple[Any, ...]:
        """All that the row says of its item, as the book has it."""
        row = item_row(items.Item(0, self.thing, self.details, self.named, self.named, "", ""))
        return tuple(row[column] for column in _CONTENT)


@dataclass(frozen=True, slots=True)
class Arrivals:
    """Rows sorted out: the `new` ones, those `known` from before, and those `changed` since.

    A row of which some of the items alike are new is in both. `changed` has the number that the
    item called the same has in the stock.
    """

    new: tuple[Arrival, ...]
    known: tuple[Arrival, ...] = ()
    changed: tuple[tuple[Arrival, int], ...] = ()


class ArrivalRows:
    """Rows made into items, named by one catalog; a price has the last currency that was told.

    `money` reads an amount in a currency, `photo` gives the whole path of a picture.
    """

    def __init__(
        self,
        naming: Naming,
        wants: Sequence[Want],
        currency: str | None,
        money: Callable[[str | None, str | None], items.Money | None],
        photo: Callable[[str], str],
    ) -> None:
        self._naming = naming
        self._wants = wants
        self._currency = currency
        self._money = money
        self._photo = photo

    def check(self, columns: Sequence[str]) -> UserError | None:
        """Return what is wrong with the columns of a file, or None."""
        for column in columns:
            if column not in COLUMNS:
                return batch.unknown_column(column, COLUMNS)
        if set(SEEN_IN).isdisjoint(columns):
            mend = f"begin with {batch.ITEM},{batch.COUNTS}"
            return UserError("the column is missing", batch.COUNTS, mend)
        return None

    def read(self, row: batch.Row) -> Arrival:
        """Return what a row puts into the stock; raise UserError for one that cannot be read."""
        if row.fault is not None:
            raise row.fault
        cells = row.cells
        thing = thing_of_catalog(self._naming.catalog, _thing(row))
        notes = [cells[column] for column in (batch.ITEM, NOTE) if column in cells]
        currency = cells.get(CURRENCY, self._currency) if PRICE in cells else None
        price = self._money(cells.get(PRICE), currency)
        details = items.Details(
            condition=items.whole_text(cells.get(CONDITION, ""), CONDITION),
            place=items.whole_text(cells.get(PLACE, ""), PLACE),
            price=price,
            photo=self._photo(cells.get(PHOTO, "")),
            note=items.whole_text(BEHIND_LABEL.join(notes), NOTE),
        )
        if price is not None:
            self._currency = price.currency
        quantity = items.parse_quantity(cells.get(QUANTITY))
        named = self._naming.name(thing)
        wanted = wanted_among(self._wants, named.shares)
        return Arrival(row.line, row.item, thing, details, named, quantity, wanted)


def sort_out(
    arrivals: Sequence[Arrival], before: Iterable[dict[str, Any]], there: Iterable[int]
) -> Arrivals:
    """Return which rows are new; `before`: rows of items as files added them, `there`: numbers.

    Alike in all, a row is known as often as it was added. One that calls its item as one item in
    the stock (`there`) is called, and no other row does, was changed since.
    """
    left: Counter[tuple[Any, ...]] = Counter()
    called: dict[str, set[int]] = defaultdict(set)
    in_stock = set(there)
    for row in before:
        left[tuple(row[column] for column in _CONTENT)] += 1
        if row["id"] in in_stock:
            called[row["note"].partition(BEHIND_LABEL)[0]].add(row["id"])
    labels = Counter(one.label for one in arrivals)
    new, known = [], []
    changed: list[tuple[Arrival, int]] = []
    for one in arrivals:
        again = min(one.quantity, left[one.content])
        left[one.content] -= again
        if again:
            known.append(replace(one, quantity=again))
        same = called.get(one.label, set())
        if not again and one.label and labels[one.label] == 1 and len(same) == 1:
            changed.append((one, min(same)))
        elif again < one.quantity:
            new.append(replace(one, quantity=one.quantity - again))
    return Arrivals(tuple(new), tuple(known), tuple(changed))


def _thing(row: batch.Row) -> items.Thing:
    cells = row.cells
    given = [column for column in SEEN_IN if column in cells]
    if not given:
        raise UserError("nothing was counted", mend="write counts, for example 28 24 19 _ 12")
    if len(given) > 1:
        mend = f"fill one of {', '.join(SEEN_IN)}"
        raise UserError("an item is a piece, a pair or a box", " and ".join(given), mend)
    text = cells[given[0]]
    batch.refuse_date(text, given[0])
    words = text.split()
    return items.new_thing(
        items.PAIR if given[0] == items.PAIR else items.kind_of(words),
        words,
        role=cells.get(batch.ROLE, ""),
        only_family=cells.get(batch.FAMILY, ""),
        marks=batch.parts(cells.get(batch.MARK)),
        features=batch.parts(cells.get(batch.FEATURE)),
    )
