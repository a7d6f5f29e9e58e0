"""Items of the stock on the screen: one that was added or sold, one in full, many in a list.

What they are called, and what a recheck changed, is left to the shelf.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.catalog.book import GONE, NEW, Difference
from cogtally.shelf.stock import BOX, PAIR, PIECE, Item, Named, Share, month_sums, price_sums
from cogtally.show.screen import (
    GAP,
    LEAST_SHOWN,
    STRONG,
    count_of,
    hung,
    per_cent,
    plain,
    said,
    say,
    say_end,
    say_hit,
    teeth_text,
    time_text,
    wrapped,
    written_list,
)

if TYPE_CHECKING:
    from rich.console import Console

    from cogtally.shelf.stock import Arrivals, Hit, Recheck, Rechecked, Wanted


KINDS = {PIECE: "loose piece", PAIR: "pair", BOX: "whole box"}
#: So many of what an item may be are shown.
MOST_SHARES = 6
#: A list has columns where so many are left for the names.
LEAST_NAME = 28
KEY_WIDTH = 11
#: From here on a piece is told to be what is wanted without a doubt.
SURE = 0.90


def show_added(
    items: Sequence[Item], wanted: Sequence[Wanted], entry: int, console: Console
) -> None:
    """Show the numbers of items alike that were added, and what they are."""
    first = items[0]
    head = f"Item {first.number}"
    if len(items) > 1:
        between = "and" if len(items) == 2 else "to"
        head = f"Items {first.number} {between} {items[-1].number}, alike"
    say(console, f"{head}: {named_text(first.now)}.", STRONG)
    text = plain("; ".join(_short(first)))
    if text:
        say(console, f"{text[:1].upper()}{text[1:]}.")
    _off(first, console)
    for line in wanted_lines(wanted):
        say(console, line, STRONG)
    say(console, undo_text(entry))
    say_end(console)


def say_wanted(found: Iterable[Wanted], console: Console) -> None:
    """Show which of all that is looked for a piece is, with an empty line behind it."""
    for line in wanted_lines(found):
        say(console, line, STRONG)
    console.print()


def wanted_lines(found: Iterable[Wanted]) -> Iterator[str]:
    """Give which of all that is looked for a piece is, for what and up to which price."""
    for one in found:
        want = one.want
        sure = per_cent(one.probability)
        doubt = "" if one.probability >= SURE else f" (as far as it is that: {sure})"
        if one.completes:
            price = f" up to {want.up_to} {want.currency}" if want.up_to else ""
            what = f"the {want.piece} completes {want.family}/{want.set}"
            yield f"Buy it{price}: {plain(what)}{doubt}."
        else:
            yield f"You want this: {plain(want.text)}{doubt}."


def show_arrivals(
    found: Arrivals,
    added: Sequence[Item],
    refused: int,
    entry: int,
    console: Console,
    *,
    dry_run: bool,
) -> None:
    """Show what a file put into the stock, or with `dry_run` what it would, a row of it a line."""
    for one in found.new if dry_run else ():
        alike = f" ({one.quantity} alike)" if one.quantity > 1 else ""
        label = f"{one.label}: " if one.label else ""
        head = f"row {one.line}{GAP}{plain(label)}{named_text(one.named)}{alike}"
        say(console, head, hanging=4)
    if dry_run:
        count = count_of(sum(one.quantity for one in found.new), "item")
        say(console, f"{count} would come. Nothing was written (--dry-run).")
    else:
        numbers = f" as {span_text(added)}" if added else ""
        say(console, f"Added {count_of(len(added), 'item')}{numbers}.")
    for one in found.new:
        row = f"Row {one.line}{f', {plain(one.label)}' if one.label else ''}"
        for text in wanted_lines(one.wanted):
            say(console, f"{row}: {text}", STRONG)
    if refused:
        say(console, f"Left out: {count_of(refused, 'row')} told above.")
    known = sum(one.quantity for one in found.known)
    if known:
        them = "it was" if known == 1 else "they were"
        say(
            console,
            f"Left out: {count_of(known, 'item')}, for {them} added before, called the same and "
            "alike in all. --again adds them all the same.",
        )
    if added:
        say(console, undo_text(entry))
    say_end(console)


def show_changed(item: Item, entry: int, console: Console) -> None:
    """Show an item after it was edited, in an `entry` of the log; 0 if nothing was changed."""
    if not entry:
        say(console, f"Nothing was changed in item {item.number}.")
        return
    show_added([item], (), entry, console)


def show_sold(item: Item, console: Console) -> None:
    """Show that an item was sold."""
    say(console, f"Sold item {item.number}: {named_text(item.now)}.", STRONG)
    text = _sale(item)
    back = f"'cogtally stock return {item.number}' takes the sale back."
    say(console, f"{text[:1].upper()}{text[1:]}. {back}")
    say_end(console)


def show_returned(item: Item, entry: int, console: Console) -> None:
    """Show that a sold item came back; it is given as it was sold."""
    say(console, f"Item {item.number} is for sale again: {named_text(item.now)}.", STRONG)
    say(console, f"It was {_sale(item)}. {undo_text(entry)}")
    say_end(console)


def show_removed(item: Item, why: str, entry: int, console: Console) -> None:
    """Show that an item was taken out of the stock, and why."""
    say(console, f"Item {item.number} is removed, {why}: {named_text(item.now)}.", STRONG)
    say(console, f"No other item gets its number. {undo_text(entry)}")
    say_end(console)


def undo_text(entry: int) -> str:
    """Return how an entry of the log is taken back."""
    return f"'cogtally undo {entry}' takes it back."


def span_text(items: Sequence[Item]) -> str:
    """Return the numbers of items that were added at once: `3`, `3 to 7`."""
    first, last = items[0].number, items[-1].number
    return f"{first}" if first == last else f"{first} to {last}"


def show_item(item: Item, console: Console) -> None:
    """Show all that is kept of one item."""
    say(console, f"Item {item.number}: {named_text(item.now)}.", STRONG)
    _off(item, console)
    console.print()
    room = console.width - KEY_WIDTH
    for key, text in _facts(item):
        lines = [line for part in text.splitlines() for line in wrapped(plain(part), room)]
        for line in hung(f"{key:<{KEY_WIDTH}}", lines):
            console.print(Text(line.rstrip()), soft_wrap=True)
    shares = [share for share in item.now.shares if share.probability >= LEAST_SHOWN]
    if shares:
        console.print()
        say(console, "What it may be", STRONG)
        sure = [per_cent(share.probability) for share in shares[:MOST_SHARES]]
        wide = max(map(len, sure))
        for share, text in zip(shares, sure, strict=False):
            lines = wrapped(share_text(share), console.width - wide - 4)
            for line in hung(f"{GAP}{text:>{wide}}{GAP}", lines):
                console.print(Text(line), soft_wrap=True)
        if shares[MOST_SHARES:]:
            say(console, f"  … and {len(shares) - MOST_SHARES} more; --json has them.")
    say_end(console)


def show_list(items: Sequence[Item], console: Console, *, none: str) -> None:
    """Show items, a row each, and what they are priced at together; `none`: if there are none."""
    if not items:
        say(console, none)
        return
    for row in _rows(items, console.width):
        console.print(row, soft_wrap=True)
    console.print()
    say(console, _sum(items))
    if all(item.sale for item in items):
        # How much was sold in each month, the latest first, for how much in each currency.
        for month in month_sums(items):
            money = written_list(f"{amount} {currency}" for currency, amount in month.sums)
            text = f"{month.month}{GAP}{count_of(month.items, 'item')}"
            text += f", {money}" if money else ""
            text += f"; {month.unpriced} without a price" if month.unpriced else ""
            say(console, text, hanging=9)
    say_end(console)


def show_found(hits: Sequence[Hit], console: Console) -> None:
    """Show the items that were found, the likeliest first, and by which of their texts."""
    if not hits:
        say(console, "No item in the stock is like that.")
        return
    for hit in hits:
        item = hit.item
        head = f"{item.number}{GAP}{named_text(item.now)}"
        said_of = [*_short(item), *(b for b in hit.because if b != item.now.name)]
        because = plain("; ".join(dict.fromkeys(said_of)))
        say_hit(console, head, len(str(item.number)), because)
    say_end(console)


def named_text(named: Named) -> str:
    """Return what an item is called with its probability: `Alder laygear …: likely, 81 %`."""
    return f"{plain(named.name)}: {said(named.probability)}"


def share_text(share: Share) -> str:
    """Return one thing that an item may be: `alder-4 laygear 28-24-19-14-12 of wide`."""
    if not share.sets:
        return plain(f"{share.family} {share.piece} of no listed type")
    piece = f" {share.piece} {teeth_text(share.teeth)}" if share.piece else ""
    return plain(f"{share.family}{piece} of {written_list(share.sets, 'or')}")


def _off(item: Item, console: Console) -> None:
    """Ask for another count where the counts are not those of what the item is called after."""
    if item.now.family and item.now.away:
        teeth = count_of(item.now.away, "tooth", "teeth")
        say(console, f"The counts are {teeth} off what is listed: count again.")


def _short(item: Item) -> list[str]:
    """What is said of an item beside its name, in short."""
    details = item.details
    found = [f"at {details.place}"] if details.place else []
    if item.sale is not None:
        found.append(_sale(item))
    elif details.price is not None:
        found.append(details.price.text)
    return found + ([details.condition] if details.condition else [])


def _sale(item: Item) -> str:
    sale = item.sale
    assert sale is not None
    to = f" to {plain(sale.to)}" if sale.to else ""
    price = f" for {sale.price.text}" if sale.price else ""
    return f"sold{to}{price}, {time_text(sale.at)[:10]}"


def _facts(item: Item) -> Iterator[tuple[str, str]]:
    thing, details = item.thing, item.details
    yield "kind", KINDS[item.kind]
    yield "seen", thing.text
    for key, text in (
        ("role", thing.role),
        ("family", thing.only_family and f"{thing.only_family}, the only one asked about"),
        ("marks", "; ".join(thing.marks)),
        ("features", "; ".join(thing.features)),
        ("condition", details.condition),
        ("place", details.place),
        ("price", details.price.text if details.price else ""),
        ("photo", details.photo),
        ("note", details.note),
    ):
        if text:
            yield key, text
    yield "added", time_text(item.added)
    if item.then.name != item.now.name:
        yield "then", f"{item.then.name}: {said(item.then.probability)}"
        yield "named", time_text(item.now.at)
    if item.changed != item.added:
        yield "changed", time_text(item.changed)
    if item.labelled:
        yield "labelled", time_text(item.labelled)
    if item.sale is not None:
        yield "sold", _sale(item).removeprefix("sold").strip(" ,")
        if item.sale.note:
            yield "", item.sale.note


def _rows(items: Sequence[Item], width: int) -> Iterator[Text]:
    """A row an item; its name goes on below, or all else does where the screen is narrow."""
    cells = []
    for item in items:
        paid = item.sale.price if item.sale is not None else item.details.price
        known = (str(item.number), plain(item.now.name), per_cent(item.now.probability))
        cells.append((*known, plain(item.details.place), paid.text if paid else ""))
    price_head = "sold for" if all(item.sale for item in items) else "price"
    head = ("item", "what it is", "how sure", "place", price_head)
    wide = [max(len(row[i]) for row in (head, *cells)) for i in range(5)]
    room = width - wide[0] - sum(wide[2:]) - 4 * len(GAP)
    if room < LEAST_NAME:
        yield from _narrow(cells, wide[0], width)
        return
    room = min(room, wide[1])
    for row in (head, *cells):
        number, name, sure, place, price = row
        first, *more = wrapped(name, room)
        set_out = [number.rjust(wide[0]), first.ljust(room), sure.rjust(wide[2])]
        text = GAP.join([*set_out, place.ljust(wide[3]), price.rjust(wide[4])])
        for line in (text, *(f"{'':{wide[0]}}{GAP}{part}" for part in more)):
            yield Text(line.rstrip(), style=STRONG if row is head else "")


def _narrow(cells: Iterable[Sequence[str]], wide: int, width: int) -> Iterator[Text]:
    room = width - wide - len(GAP)
    for item, name, *rest in cells:
        lines = [*wrapped(name, room), *wrapped(", ".join(text for text in rest if text), room)]
        yield from map(Text, hung(f"{item:>{wide}}{GAP}", lines))


def _sum(items: Sequence[Item]) -> str:
    """How many items there are, and what they are priced at together."""
    sums, unpriced = price_sums(items)
    money = written_list(f"{amount} {currency}" for currency, amount in sums)
    found = count_of(len(items), "item")
    if money:
        found += f", {money} in all"
        if unpriced:
            found += f"; {unpriced} without a price"
    return f"{found}."


#: So many items are shown before and after; the rest is counted.
MOST_SHOWN = 20


def show_recheck(done: Recheck, console: Console, *, dry_run: bool) -> None:
    """Show the items that are called otherwise now, before and after, and what did it."""
    for one in done.renamed[:MOST_SHOWN]:
        say(console, f"Item {one.item.number} (seen {plain(one.item.thing.text)})", STRONG)
        before, after = named_text(one.before), named_text(one.after)
        for label, text in (("before", before), ("now", after), ("why", _why(one, done))):
            say(console, f"  {label:<8}{text}", hanging=10)
    if done.renamed[MOST_SHOWN:]:
        say(console, f"… and {len(done.renamed) - MOST_SHOWN:,} more; --json has them.")
    if done.renamed:
        console.print()
    renamed = f"{len(done.renamed)} called otherwise now" if done.renamed else ""
    found = f"{count_of(len(done.all), 'item')} looked at: {renamed or 'all are called as before'}"
    if done.moved:
        found += f", {len(done.moved)} with another probability"
    say(console, f"{found}.{' Nothing was written (--dry-run).' if dry_run else ''}")
    say_end(console)


def _why(one: Rechecked, done: Recheck) -> str:
    """What changed in the catalog, and whether what it is called now is nearer."""
    other = "other sets of the catalog changed, and with them what is likely"
    none = "no change of the catalog is in the log; the answer is worked out otherwise"
    told = [_change(difference) for difference in one.because]
    told = told or [other if done.catalog_changed else none]
    before, after = one.before.away, one.after.away
    if before is not None and after is not None and before != after:
        nearer = "nearer" if after < before else "farther"
        told.append(f"it is {nearer}: {count_of(after, 'tooth', 'teeth')} off, before {before}")
    return f"{'; '.join(told)}."


def _change(difference: Difference) -> str:
    subject = plain(difference.subject)
    if difference.status == NEW:
        return f"{subject} is new in the catalog"
    if difference.status == GONE:
        return f"{subject} is no longer in the catalog"
    keys = written_list(
        f"{plain(key.key)} {plain(key.before or 'nothing')} to {plain(key.after or 'nothing')}"
        for key in difference.keys
    )
    return f"{subject} was changed ({keys})"
